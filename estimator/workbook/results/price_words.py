"""A price in words, as a text and as the cells of a formula that follows the price."""

from collections.abc import Iterator
from typing import NamedTuple

from estimator.display import money_sign, money_text, sentence
from estimator.money import round_money

ONES = (
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
SCALES = ((" billion", 10**9), (" million", 10**6), (" thousand", 10**3), ("", 1))
"""What follows each group of three digits, and what its last digit counts."""
LARGEST = 10**12
NO_TAX, BEFORE_TAX = "taxes not included", "before tax"
"""What a price says of tax where no tax rate is set, and where one is."""


class Coins(NamedTuple):
    """What one and several of a currency and of its hundredth part are called."""

    one: str
    several: str
    one_part: str
    parts: str


DOLLARS = Coins("dollar", "dollars", "cent", "cents")
COINS = {
    "$": DOLLARS, "USD": DOLLARS, "US$": DOLLARS, "CAD": DOLLARS, "C$": DOLLARS, "AUD": DOLLARS,
    "A$": DOLLARS, "NZ$": DOLLARS, "NZD": DOLLARS,
    "\u20ac": Coins("euro", "euros", "cent", "cents"),
    "EUR": Coins("euro", "euros", "cent", "cents"),
    "\u00a3": Coins("pound", "pounds", "penny", "pence"),
    "GBP": Coins("pound", "pounds", "penny", "pence"),
}  # fmt: skip


class WordCell(NamedTuple):
    """One cell of the working: what it is, its value, and its formula."""

    label: str
    value: int | str
    formula: str


def coins_of(currency: str) -> Coins:
    """Return the words of a currency sign; one without own words stays as it is."""
    sign = currency.strip()
    return COINS.get(sign.upper(), Coins(sign, sign, "hundredth", "hundredths"))


def price_in_words(price: float, currency: str) -> str:
    """Return a price in words, with a capital; a larger one than a trillion in figures.

    >>> price_in_words(1085402.2, "$")
    'One million eighty-five thousand four hundred two dollars and twenty cents'
    """
    amount = round_money(price)
    if not 0 <= amount < LARGEST:
        return money_text(currency, amount, 2)
    whole, parts = int(amount), int(amount * 100) % 100
    coins = coins_of(currency)
    groups = ((whole // size % 1000, scale) for scale, size in SCALES)
    words = " ".join(f"{_below_thousand(n)}{scale}" for n, scale in groups if n) or "zero"
    unit = coins.one if whole == 1 else coins.several
    text = f"{words} {unit} and {_below_thousand(parts) or 'no'}"
    text = f"{text} {coins.one_part if parts == 1 else coins.parts}"
    return sentence(text)


def _below_thousand(number: int) -> str:
    """Return the words of a whole number below a thousand, nothing for zero."""
    hundreds, rest = divmod(number, 100)
    words = [f"{ONES[hundreds - 1]} hundred"] if hundreds else []
    if 0 < rest < 20:
        words.append(ONES[rest - 1])
    elif rest:
        tens, ones = divmod(rest, 10)
        words.append(TENS[tens - 2] + (f"-{ONES[ones - 1]}" if ones else ""))
    return " ".join(words)


def words_for_client(price: float, currency: str, tax: float) -> str:
    """Return a price in words as all of the client's pages have it.

    >>> words_for_client(2.5, "$", 0.0)
    'Two dollars and fifty cents; taxes not included'
    """
    return f"{price_in_words(price, currency)}; {BEFORE_TAX if tax else NO_TAX}"


def word_cells(
    price: float, currency: str, tax: float, cells: tuple[str, str], first: str
) -> Iterator[WordCell]:
    """Yield the cells under each other, from a row on, that spell out a price; words come last.

    Parameters
    ----------
    price, currency, tax
        As of ``words_for_client``.
    cells : tuple of str
        Cells of the price and of the tax rate.
    first : str
        Address of the first of the cells, such as ``B20``.
    """
    price_at, tax_at = cells
    amount, coins = round_money(price), Coins(*map(_quoted, coins_of(currency)))
    whole, parts = int(amount), int(amount * 100) % 100
    column, row = first.rstrip("0123456789"), int(first.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
    cents = first
    yield WordCell("Price in hundredths", int(amount * 100), f"ROUND({price_at}*100,0)")
    at = row
    texts = []
    for scale, size in SCALES:
        at += 1
        number, text = f"{column}{at}", f"{column}{at + 1}"
        group = whole // size % 1000
        title = f"Digits of the{scale or ' one'}s"
        above = f"1000*INT({cents}/{100_000 * size})"
        yield WordCell(title, group, f"INT({cents}/{100 * size})-{above}")
        at += 1
        named = f"{_below_thousand(group)}{scale}" if group else ""
        yield WordCell("in words", named, f'IF({number}=0,"",{_spelled(number)}&"{scale}")')
        texts.append(text)
    at += 1
    yield WordCell("Digits of the hundredths", parts, f"{cents}-100*INT({cents}/100)")
    hundredths = f"{column}{at}"
    at += 1
    yield WordCell(
        "in words",
        _below_thousand(parts) or "no",
        f'IF({hundredths}=0,"no",{_spelled(hundredths)})',
    )
    joined = '&" "&'.join(texts)
    spoken = f'IF({cents}<100,"zero",TRIM({joined}))'
    unit = f'IF(INT({cents}/100)=1," {coins.one}"," {coins.several}")'
    part = f'IF({hundredths}=1," {coins.one_part}"," {coins.parts}")'
    text = f'{spoken}&{unit}&" and "&{column}{at}&{part}'
    in_words = price_in_words(price, currency)
    at += 1
    yield WordCell("joined", in_words[0].lower() + in_words[1:], text)
    figures = f'"{_quoted(money_sign(currency))}"&FIXED({price_at},2)'
    beyond = f"OR({cents}<0,{cents}>={100 * LARGEST})"
    last = f"{column}{at}"
    yield WordCell(
        "Bid price in words",
        in_words,
        f"IF({beyond},{figures},UPPER(LEFT({last},1))&MID({last},2,300))",
    )
    yield WordCell(
        "on the client's pages",
        words_for_client(price, currency, tax),
        f'{column}{at + 1}&IF({tax_at}=0,"; {NO_TAX}","; {BEFORE_TAX}")',
    )


def _quoted(text: str) -> str:
    return text.replace('"', '""')


def _spelled(cell: str) -> str:
    """Return the formula that spells out a cell with a whole number from 1 to 999."""
    ones = ",".join(f'"{word}"' for word in ONES)
    tens = ",".join(f'"{word}"' for word in TENS)
    nine = ",".join(f'"-{word}"' for word in ONES[:9])
    hundreds = ",".join(f'"{word} hundred "' for word in ONES[:9])
    rest = f"MOD({cell},100)"
    low = f"CHOOSE({rest},{ones})"
    high = f'CHOOSE(INT({rest}/10)-1,{tens})&IF(MOD({cell},10)=0,"",CHOOSE(MOD({cell},10),{nine}))'
    below = f'IF({rest}=0,"",IF({rest}<20,{low},{high}))'
    return f'TRIM(IF({cell}<100,"",CHOOSE(INT({cell}/100),{hundreds}))&{below})'
