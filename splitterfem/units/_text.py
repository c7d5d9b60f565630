"""Reading a quantity written in words: the grammar and the refusals.

The grammar is small on purpose. A text is cut into numbers and unit names here, and nothing is evaluated.
Numbers are kept as exact fractions and rounded to a float once, at the end, so that "12 mm" is the float
nearest to 0.012 m.
"""

from __future__ import annotations

import re
from fractions import Fraction

from splitterfem.errors import UnitError, nearest
from splitterfem.units._table import DIMENSIONS, EXPRESSION, MARKS, Dimension, factor, is_unit_of, unit

LONGEST = 64
"""Characters that a written quantity may have."""

_SAME_CHARACTERS = str.maketrans(
    {
        "−": "-",
        "′": "'",
        "’": "'",
        "″": '"',
        "”": '"',
        "“": '"',
        "\u00a0": " ",
        "\u202f": " ",
        "·": "*",
        "⋅": "*",
        "²": "^2",
        "³": "^3",
        "⁴": "^4",
        "μ": "µ",
        "°": "deg",
        "½": " 1/2",
        "¼": " 1/4",
        "¾": " 3/4",
        "⅛": " 1/8",
        "⅜": " 3/8",
        "⅝": " 5/8",
        "⅞": " 7/8",
    }
)
_ALIEN = re.compile(r"[^A-Za-z0-9 .,+\-*/^'\"%µ_]")
_NUMBER = (
    r"[0-9]+(?: +|-)[0-9]+ */ *[0-9]+(?![.0-9])"  # 1 1/2 or 1-1/2
    r"|[0-9]+ */ *[0-9]+(?![.0-9])"  # 1/2
    r"|(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"  # 12, 1.5, 2e-3
)
_WHOLE = re.compile(rf"(?P<sign>[+-]?) *(?P<number>{_NUMBER}) *(?P<unit>.*)")
_FEET_AND_INCHES = re.compile(
    rf"(?P<sign>[+-]?) *(?P<feet>{_NUMBER}) *(?:ft|foot|feet|') *(?P<inches>{_NUMBER}) *(?:in|inch|inches|\")"
)
_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]*)?(?![0-9,])")

_SLIPS = {"Mm": "mm", "mPa": "MPa", "mpsi": "Mpsi", "msi": "Mpsi", "Msi": "Mpsi", "kmh": "km/h", "G": "g"}
_WEIGHTS = {"kg": "kgf", "lb": "lbf", "lbs": "lbf", "pound": "lbf", "pounds": "lbf", "oz": "ozf"}
_GAUGES = {"ga", "gauge", "gage", "swg", "SWG", "awg", "AWG", "bwg", "BWG"}
_TEMPERATURES = {"degC", "degF", "celsius", "fahrenheit", "degree_Celsius", "degree_Fahrenheit", "K"}


def shown(text: object) -> str:
    """Return a text in double quotes, cut short when it is long."""
    words = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in str(text)[:41])
    return f'"{words if len(words) <= 40 else words[:37] + "..."}"'


def _fraction(number: str) -> Fraction:
    """Turn the digits of a number into a fraction; raises ValueError on a zero under the bar or a slip."""
    if "/" not in number:
        mantissa, _, power = number.lower().partition("e")
        if len(power) > 4:
            raise ValueError("has an exponent out of all reason")
        return Fraction(mantissa) * Fraction(10) ** int(power or 0)
    top, bottom = number.replace("-", " ").split("/")
    *whole, numerator = top.split()
    if not int(bottom):
        raise ValueError("divides by zero")
    part = Fraction(int(numerator), int(bottom))
    if whole and part >= 1:
        raise ValueError("has a fraction above one after a whole number")
    return part + int(whole[0]) if whole else part


def _refuse_characters(text: str, plain: str, kind: Dimension) -> None:
    """Refuse commas, digit separators, hexadecimal and characters that no quantity has."""
    alien = _ALIEN.search(plain)
    if alien:
        raise UnitError(
            f"{shown(text)} contains {alien.group()!r}, which no quantity has; "
            f'write for example "{kind.example}"'
        )
    if "," in plain:
        without, mended = plain.replace(",", ""), plain.replace(",", ".")
        if _THOUSANDS.match(plain):
            decimal = (
                f' (or "{mended}" if the comma marks the decimals)'
                if plain.count(",") == 1 and "." not in plain
                else ""
            )
            raise UnitError(f'{shown(text)} has a comma between thousands; write "{without}"{decimal}')
        if re.fullmatch(r"[^,.]*[0-9],[0-9][^,.]*", plain):
            raise UnitError(f'{shown(text)} has a decimal comma; write "{mended}"')
        raise UnitError(f'{shown(text)} has commas; write one number and one unit, such as "{kind.example}"')
    if re.match(r"[+-]? *[0-9][0-9_]*_[0-9]", plain):
        raise UnitError(f'{shown(text)} has a digit separator; write "{plain.replace("_", "")}"')
    if re.match(r"[+-]? *0[xXbBoO]", plain):
        raise UnitError(f'{shown(text)} is not a decimal number; write for example "{kind.example}"')
    if re.match(r"[+-]? *(nan|inf)", plain, re.IGNORECASE):
        raise UnitError(f'{shown(text)} is not a finite number; write for example "{kind.example}"')


def _refuse_rest(text: str, number: str, rest: str, dimension: str) -> None:
    """Refuse what follows the number when it cannot be a unit of this dimension."""
    kind = DIMENSIONS[dimension]
    if not rest and dimension != "number":
        raise UnitError(f'{shown(text)} has no unit; write "{number} {kind.units[0]}"')
    if re.match(r"[0-9]{3}(?![0-9])", rest):
        joined = f"{number}{rest}"
        raise UnitError(f'{shown(text)} has a space inside the number; write "{joined}"')
    if "H2O" not in rest and re.search(r"[A-Za-z'\"] *[0-9.]+ *[A-Za-z'\"]", rest):
        raise UnitError(f'{shown(text)} mixes two quantities; write one, such as "{kind.example}"')
    first = rest.split(" ")[0].rstrip(".")
    if first in {"mil", "mils"}:
        raise UnitError(
            f'{shown(text)} is ambiguous (thousandths of an inch, or millimetres); write "{number} thou" '
            f'or "{number} mm"'
        )
    if first in _GAUGES:
        raise UnitError(
            f"{shown(text)} is a gauge number, whose size depends on the metal; "
            f'write the size itself, such as "1.6 mm"'
        )
    if first in {"ton", "tons"}:
        raise UnitError(f'{shown(text)} may be a short ton, a long ton or a tonne; write "kg", "t" or "lb"')
    if first in _TEMPERATURES:
        raise UnitError(
            f'{shown(text)} is a temperature, not {kind.phrase}; write for example "{kind.example}"'
        )


def _refuse_unit(text: str, number: str, expression: str, dimension: str) -> UnitError:
    """Return the refusal of a unit that is unknown."""
    kind = DIMENSIONS[dimension]
    if " " in expression.replace(" *", "*").replace("* ", "*").replace(" /", "/").replace("/ ", "/"):
        joined = re.sub(r" *([*/]) *| +", lambda m: m.group(1) or "*", expression)
        if re.fullmatch(r"(ft|foot|feet|') [0-9./]+", expression):
            return UnitError(f'{shown(text)} lacks the unit of its inches; write "{number} {expression} in"')
        if EXPRESSION.fullmatch(joined) and is_unit_of(joined, dimension):
            return UnitError(
                f'{shown(text)} has two units side by side; write a sign between them: "{number} {joined}"'
            )
    alike = next((name for name in kind.units if name.casefold() == expression.casefold()), None)
    slip = _SLIPS.get(expression, alike)
    slip = slip if slip in kind.units else None
    hint = f"did you mean '{slip}'?" if slip else nearest(expression, (u for u in kind.units if u))
    return UnitError(
        f"{shown(text)}: '{expression[:20]}' is not a unit of {kind.phrase.split(' ', 1)[1]}; {hint}"
    )


def _refuse_dimension(text: str, number: str, expression: str, dimension: str) -> UnitError:
    """Return the refusal of a unit of another dimension, with the mend for weights and masses."""
    kind = DIMENSIONS[dimension]
    powers = unit(expression).powers
    found = next((known.phrase for known in DIMENSIONS.values() if unit(known.si).powers == powers), None)
    for table, what in (
        (_WEIGHTS, "a mass where a force is wanted"),
        (
            {force: mass for mass, force in _WEIGHTS.items() if mass in {"kg", "lb", "oz"}},
            "a force, not a mass",
        ),
    ):
        mended = re.sub(r"[A-Za-z_]+", lambda m, table=table: table.get(m.group(), m.group()), expression)  # type: ignore[misc]
        if mended != expression and is_unit_of(mended, dimension):
            alone = " or a force in N" if dimension == "force" else ""
            return UnitError(f'{shown(text)} has {what}; write "{number} {mended}"{alone}')
    is_what = f"{found}, not {kind.phrase}" if found else f"not {kind.phrase}"
    return UnitError(f'{shown(text)} is {is_what}; write for example "{kind.example}"')


def read(text: str, dimension: str) -> Fraction:
    """Read a written quantity.

    Parameters
    ----------
    text : str
        A number and a unit, such as ``12 mm``, ``1 1/2 in``, ``6' 2"`` or ``240 km/h``.
    dimension : str
        A key of `DIMENSIONS`.

    Returns
    -------
    Fraction
        The exact value in SI units.

    Raises
    ------
    UnitError
        One sentence that quotes the text and says what would be right.
    """
    kind = DIMENSIONS[dimension]
    if len(text) > LONGEST:
        raise UnitError(
            f'a text of {len(text)} characters is not a quantity; write for example "{kind.example}"'
        )
    plain = text.translate(_SAME_CHARACTERS).replace("**", "^").replace("''", '"').strip(" ")
    _refuse_characters(text, plain, kind)
    try:
        both = _FEET_AND_INCHES.fullmatch(plain)
        if both:
            sign = -1 if both["sign"] == "-" else 1
            inches = 12 * _fraction(both["feet"]) + _fraction(both["inches"])
            return sign * inches * _convert(text, both["feet"], "in", dimension)
        parts = _WHOLE.fullmatch(plain)
        if not parts:
            raise ValueError("does not begin with a number")
        value = _fraction(parts["number"]) * (-1 if parts["sign"] == "-" else 1)
    except UnitError:
        raise
    except ValueError as problem:
        raise UnitError(f'{shown(text)} {problem}; write for example "{kind.example}"') from None
    rest = re.sub(r" +per +", "/", parts["unit"])
    _refuse_rest(text, parts["number"], rest, dimension)
    return value * _convert(text, parts["number"], rest, dimension)


def _convert(text: str, number: str, expression: str, dimension: str) -> Fraction:
    """Return the factor of a unit expression, or refuse it in a sentence."""
    expression = MARKS.get(expression, expression)
    if expression in _SLIPS:
        raise _refuse_unit(text, number, expression, dimension)
    try:
        return factor(expression, dimension)
    except KeyError:
        raise _refuse_unit(text, number, expression, dimension) from None
    except ValueError:
        raise _refuse_dimension(text, number, expression, dimension) from None
