"""One row of the phrase table."""

from collections.abc import Callable
from dataclasses import dataclass

from bot.fact import Fact, Found


@dataclass(frozen=True, slots=True)
class Row:
    """`says` is one farmer's sentence; `examples` are messages it reads, `misses` near ones it does not; `classes`
    are the words that point at it, `beside` those of other kinds that may stand in it; `build` reads a Fact."""

    name: str
    says: str
    examples: tuple[str, ...]
    build: Callable[[Fact], Found]
    classes: tuple[str, ...] = ()
    misses: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
