"""Where do the words, comments and marks of an event's line come from: its template, its ready words, the settings behind them?"""

from __future__ import annotations

from steadyrest.events import EVENTS
from steadyrest.explaining.listening import Heard
from steadyrest.explaining.model import Spot, WordOrigin
from steadyrest.explaining.settings import Settings
from steadyrest.explaining.words_of_line import block_number, is_comment, pieces
from steadyrest.motion import Event
from steadyrest.writing import Printed, facts_of, setting_key


def event_words(line: str, heard: Heard, settings: Settings) -> tuple[WordOrigin, ...]:
    """The words of a line of an event, from left to right: each comes from what printed its first characters."""
    event = heard.event
    assert event is not None
    printed_by = [one for one in heard.printed for character in one.text if not character.isspace()]
    # What is written besides is a block number, which stands behind the mark of a block that can be left out.
    skip = line.startswith("/")
    numbered = len("".join(line.split())) - len(printed_by)
    printed_by[skip:skip] = [Printed("", "block number")] * numbered
    words: list[WordOrigin] = []
    at = 0
    for piece in pieces(line):
        length = len("".join(piece.split()))
        by = printed_by[at : at + length]
        at += length
        one = next((one for one in by if one.name), by[0])
        words.append(_origin(piece, one, event, heard.source == "plain", settings))
    return tuple(words)


def _origin(piece: str, one: Printed, event: Event, plain: bool, settings: Settings) -> WordOrigin:
    spot = Spot(one.file, one.line) if one.file else None
    if one.name == "block number":
        return block_number(piece, settings)
    if plain:
        return WordOrigin(piece, f"said as it stands by {event.rule}")
    if is_comment(piece):
        of = f", from {', '.join(one.facts)}" if one.facts else ""
        keys = settings.of("program.comments.style", "program.comments.characters")
        return WordOrigin(piece, f"a comment for the operator{of}", keys, spot)
    if one.name.startswith("setting."):
        return WordOrigin(piece, "as the profile states it", settings.of(one.name.removeprefix("setting.")), spot)
    if not one.name:
        return WordOrigin(piece, "stands in the template", (), spot)
    name = one.name.removeprefix("words.")
    row = EVENTS.get(event.name)
    word = (row.words.get(name) or row.block.get(name)) if row is not None else None
    if row is None or word is None:
        return WordOrigin(piece, f"the word '{name}' of this event", (), spot)
    given = facts_of(event, settings.form)
    says = word.says.format_map(given)
    keys = settings.of(*(setting_key(key, given, settings.letter) for key in (word.code, *word.settings)))
    if name in row.block and not word.code:
        quantity = event.words.get(name)
        says += f": {quantity.value:.6g}" if quantity is not None else ""
        keys += settings.number(quantity.kind if quantity is not None else "length", piece[0])
    return WordOrigin(piece, says, keys, spot)
