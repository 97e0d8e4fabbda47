"""The units a facility and a person like to see: what is stored stays as it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from brinehouse.units import amounts, faults, spelling

_H, _N, _O = 1.008, 14.007, 15.999  # g/mol: IUPAC abridged standard atomic weights, 2021
N_TO_ION = {"nitrate": (_N + 3 * _O) / _N, "nitrite": (_N + 2 * _O) / _N, "ammonia": (_N + 4 * _H) / _N}
"""Mass of the ion (for ammonia NH4+) over that of its nitrogen."""


@dataclass(frozen=True, slots=True)
class Display:
    """What a person wants to see; the defaults are metric.

    Attributes
    ----------
    temperature, volume, length, pressure, alkalinity : str
        Symbols of the table.
    gas : str
        ``%`` or ``ΔP``: total gas pressure as percent of the barometer, or as the excess.
    nitrogen : str
        ``N`` or ``ion``.
    """

    temperature: Literal["°C", "°F"] = "°C"
    volume: Literal["L", "m³", "US gal", "imp gal"] = "m³"
    length: Literal["m", "ft"] = "m"
    pressure: Literal["mmHg", "hPa", "kPa"] = "mmHg"
    gas: Literal["%", "ΔP"] = "%"
    alkalinity: Literal["meq/L", "dKH"] = "meq/L"
    nitrogen: Literal["N", "ion"] = "N"

    def symbol(self, unit: str, kind: str | None = None) -> str:
        """The unit in which an amount stored in `unit` is shown."""
        found = spelling.unit(unit, kind)
        wishes = {
            "temperature": self.temperature,
            "temperature difference": self.temperature,
            "volume": self.volume,
            "length": self.length,
            "pressure": self.pressure,
            "alkalinity": self.alkalinity,
        }
        return wishes.get(found.kind, found.symbol)

    def show(self, value: float, unit: str, kind: str | None = None) -> tuple[float, str]:
        """A stored value as this person sees it: the value and its symbol.

        >>> Display(temperature="°F").show(25.0, "°C")
        (77.0, '°F')
        """
        symbol = self.symbol(unit, kind)
        return float(amounts.convert(value, unit, symbol, kind)), symbol

    def show_nitrogen(self, value: float, word: str, basis: str) -> tuple[float, str]:
        """A nitrogen compound on the basis this person reads: the value and its basis.

        >>> Display(nitrogen="ion").show_nitrogen(1.0, "nitrate", "N")
        (4.4266, 'ion')
        """
        if word not in N_TO_ION or basis == self.nitrogen or basis not in {"N", "ion"}:
            return value, basis
        ratio = N_TO_ION[word]
        return (value * ratio, "ion") if self.nitrogen == "ion" else (value / ratio, "N")

    def show_gas(self, percent: float, barometer: float | None) -> tuple[float, str]:
        """A total gas pressure in percent of the barometer [Pa], as percent or as the excess over it.

        >>> Display(gas="ΔP").show_gas(102.0, 100_000.0)
        (15.0012, 'mmHg')
        """
        if self.gas == "%":
            return percent, "%"
        if barometer is None:
            raise faults.NotUnderstood(
                "units/wrong-kind",
                f"{percent} %",
                "to show it as ΔP takes the barometer",
                "read the barometer, or show percent",
            )
        return self.show((percent - 100.0) / 100.0 * barometer, "Pa", "pressure")
