"""Constants of nature and of the trade, each with its source; every unit is in the name's comment."""

ATM = 101325.0  # Pa; one standard atmosphere, exact
MMHG = 133.322  # Pa; conventional millimetre of mercury, rounded as meters round it (133.322387 in full)
INHG = 25.4 * MMHG  # Pa; inch of mercury
HPA = 100.0  # Pa; hectopascal, the millibar

GRAVITY = 9.80665  # m/s2; standard gravity, exact
GAS_CONSTANT = 8.31446261815324  # J/mol/K; exact since 2019
ZERO_CELSIUS = 273.15  # K
IPTS68_PER_ITS90 = 1.00024  # T68 = 1.00024 T90 between 0 and 40 °C (Saunders 1990, as used by TEOS-10)

OXYGEN_MOLAR_MASS = 31.9988  # g/mol
NITROGEN_MOLAR_MASS = 28.0134  # g/mol
ARGON_MOLAR_MASS = 39.948  # g/mol
CARBON_DIOXIDE_MOLAR_MASS = 44.0095  # g/mol
OXYGEN_GRAMS_PER_LITRE = 1.42905  # g/L at 0 °C, 1 atm; USGS memo 11.03 (1.4276 in memo 81.11 is an ideal gas)

# Dry air by volume: Glueckauf (1951), Compendium of Meteorology.
OXYGEN_IN_AIR = 0.20946  # mol/mol
NITROGEN_IN_AIR = 0.78084  # mol/mol
ARGON_IN_AIR = 0.00934  # mol/mol
# Residual gas as the total dissolved gas method rounds it (SM 2810, from memory); N2 + Ar is 0.79018.
NITROGEN_ARGON_IN_AIR = 0.7902  # mol/mol

SALT_PER_SALINITY = 35.16504 / 35.0  # g/kg of salt for each unit of practical salinity (Millero et al. 2008)
