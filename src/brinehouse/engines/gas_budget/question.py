"""What the gas budget asks for and gives, and the errors that its numbers cannot show."""

from __future__ import annotations

from brinehouse import answers

_LIMIT_HELP = "A percentage is of total gas pressure, a pressure is ΔP."

QUESTION = answers.Question(
    name="gas budget",
    title="What is in the water, and can these numbers be true together?",
    inputs=(
        answers.Input(
            name="temperature",
            word="temperature",
            label="Water temperature",
            unit="°C",
            example="25.5 degC",
            required=True,
        ),
        answers.Input(
            name="salinity",
            word="salinity",
            label="Salinity",
            unit="PSU",
            example="35 ppt",
            required=True,
            help="ppt, ‰, PSU, g/L, or conductivity in mS/cm.",
        ),
        answers.Input(
            name="barometer",
            word="barometer",
            label="Air pressure",
            unit="mmHg",
            example="760 mmHg",
            help="Where the meter stands, unless the kind says sea level. Without it, give the altitude.",
        ),
        answers.Input(
            name="barometer_kind",
            label="Kind of air pressure",
            kind="choice",
            choices=("station", "sea level"),
            example="station",
            help="Weather services give sea-level pressure: it needs the altitude.",
        ),
        answers.Input(name="altitude", label="Altitude", unit="m", example="412 m"),
        answers.Input(
            name="tgp",
            word="total gas pressure",
            label="Total gas pressure",
            unit="%",
            example="104.5 %",
            help="In % of air pressure, or as an absolute pressure.",
        ),
        answers.Input(
            name="delta_p",
            word="delta p",
            label="ΔP",
            unit="mmHg",
            example="34 mmHg",
            help="Instead of total gas pressure; negative in undersaturated water.",
        ),
        answers.Input(
            name="oxygen",
            word="oxygen",
            label="Dissolved oxygen",
            unit="mg/L",
            example="8.0 mg/L",
            help="mg/L, µmol/L or µmol/kg.",
        ),
        answers.Input(
            name="saturation",
            word="oxygen saturation",
            label="Oxygen saturation display",
            unit="%",
            example="98 %",
            help="The same water's oxygen as a percentage, where the meter can show it.",
        ),
        answers.Input(
            name="nitrogen",
            word="nitrogen residual",
            label="The meter's nitrogen",
            unit="%",
            example="106 %",
            help="The meter's own arithmetic: it tests the settings.",
        ),
        answers.Input(
            name="carbon_dioxide",
            word="carbon dioxide pressure",
            label="Carbon dioxide pressure",
            unit="µatm",
            example="800 µatm",
        ),
        answers.Input(
            name="depth",
            word="depth",
            label="Shallow end of the animals' depth",
            unit="m",
            example="0.3 m",
            help="The surface, where it is left out.",
        ),
        answers.Input(
            name="meter_salinity",
            word="salinity",
            label="Salinity the meter is set to, if someone looked",
            unit="PSU",
            example="35 ppt",
        ),
        answers.Input(
            name="second_temperature",
            word="temperature",
            label="A second thermometer's temperature",
            unit="°C",
            example="25.9 degC",
        ),
        answers.Input(name="watch", label="Watch above", unit="%", example="103 %", help=_LIMIT_HELP),
        answers.Input(name="act", label="Act above", unit="%", example="105 %", help=_LIMIT_HELP),
        answers.Input(name="u_temperature", label="u of temperature", unit="K", example="0.1 K"),
        answers.Input(name="u_salinity", label="u of salinity", unit="PSU", example="0.3 PSU"),
        answers.Input(name="u_barometer", label="u of air pressure", unit="mmHg", example="1 mmHg"),
        answers.Input(name="u_tgp", label="u of total gas pressure", unit="%", example="0.4 %"),
        answers.Input(name="u_oxygen", label="u of oxygen", unit="mg/L", example="0.1 mg/L"),
        answers.Input(name="u_depth", label="u of depth", unit="m", example="0.03 m"),
    ),
    outputs=(
        answers.Output(name="oxygen_percent", label="Oxygen", unit="%", decimals=1),
        answers.Output(name="nitrogen_percent", label="Nitrogen + argon", unit="%", decimals=1),
        answers.Output(name="oxygen_concentration", label="Dissolved oxygen", unit="mg/L", decimals=2),
        answers.Output(name="total_gas_pressure", label="Total gas pressure", unit="%", decimals=1),
        answers.Output(name="total_pressure", label="Total gas pressure, absolute", unit="mmHg", decimals=0),
        answers.Output(name="delta_p", label="ΔP", unit="mmHg", decimals=0),
        answers.Output(
            name="uncompensated_delta_p", label="ΔP left at the animals' depth", unit="mmHg", decimals=0
        ),
        answers.Output(
            name="compensation_depth",
            label="Depth above which bubbles can form",
            unit="m",
            decimals=2,
            help="ΔP over the weight of water: the gas line, measured down from the surface.",
        ),
        answers.Output(name="vapour_pressure", label="Water vapour", unit="mmHg", decimals=1),
    ),
    cautions=(
        "Advice about gas is advice. Sick animals go to a veterinarian, whatever these numbers say.",
        "Compressed gas, confined sumps and electricity by water kill people: local rules and licensed"
        " trades come before any reading.",
    ),
)

NOT_EXCLUDED: tuple[answers.Open, ...] = (
    answers.Open(
        code="gas/zero-drift",
        text="The pressure cell's zero may have drifted: it moves total gas pressure and the meter's nitrogen"
        " together, and they still agree.",
        next_reading="Hang the dry probe in air: it should read 100.0 %.",
    ),
    answers.Open(
        code="gas/wet-membrane",
        text="Water inside the membrane slows a reading; zeroed while wet, the meter reads low ever after.",
        next_reading="Open and dry the cell, check it in air, and repeat the reading.",
    ),
    answers.Open(
        code="gas/not-settled",
        text="The membrane may not have come to rest: a reading one third short of it looks sound.",
        next_reading="Stay longer: read every two minutes until three readings agree.",
    ),
    answers.Open(
        code="gas/bubbles-on-membrane",
        text="Bubbles on the membrane pin the reading near the pressure at its own depth.",
        next_reading="Hang the probe a metre deeper, tap it, and repeat.",
    ),
    answers.Open(
        code="gas/biofilm",
        text="Growth on the membrane breathes oxygen and lowers the total with it.",
        next_reading="Wipe the membrane clean and repeat at once.",
    ),
    answers.Open(
        code="gas/oxygen-gain",
        text="The oxygen channel may read a few percent high or low: the nitrogen follows it.",
        next_reading="Titrate oxygen by wet chemistry from the same water.",
    ),
)
CARBON_DIOXIDE_UNSEEN = answers.Open(
    code="gas/carbon-dioxide-unseen",
    text="Carbon dioxide that nobody measured is counted as nitrogen, 0.17 % for each mmHg.",
    next_reading="Work pCO₂ out from pH and alkalinity, and give it.",
)
