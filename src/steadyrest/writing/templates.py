"""How an event's template is found, checked before anything is written, and rendered.

A template says how an event looks; it computes nothing. What it may use is listed in `template_rules`; all else is an
error that names the file and the line. It is rendered in a sandbox in which `comment` and `message` are the only things
that can be called, and text from outside can be printed through these two only.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from jinja2 import FunctionLoader, StrictUndefined, Undefined, nodes, pass_context, pass_environment
from jinja2.exceptions import SecurityError, TemplateNotFound, TemplateSyntaxError, UndefinedError
from jinja2.runtime import Context
from jinja2.sandbox import ImmutableSandboxedEnvironment

from steadyrest.errors import Place, SteadyrestError, TemplateError
from steadyrest.events import EVENTS
from steadyrest.motion import Event
from steadyrest.profile import Profile
from steadyrest.writing.recording import Named, Printed
from steadyrest.writing.template_rules import LATER, check_template

MOST_STEPS = 20_000
MOST_CHARACTERS = 1_000_000
"""Of one event: a list of a thousand tools, gone through twenty times, in lines as long as any controller takes."""


class Outside(str):
    """Text from outside, not cleaned: a template can compare it and hand it to `comment`, and never print it or take it apart."""

    __slots__ = ()


class _NotPrintable(Exception):
    pass


class _Names:
    """What stands behind `facts` and `words`: names that can be read and nothing else. KeyError of `value` where there is no such name."""

    __slots__ = ("_value",)

    def __init__(self, value: Callable[[str], object]) -> None:
        self._value = value

    def __getattr__(self, name: str) -> object:
        try:
            return self._value(name)
        except KeyError:
            raise AttributeError(name) from None


@dataclass(frozen=True, slots=True)
class Remark:
    """A comment that is still to be made: of texts, numbers and names of facts."""

    parts: tuple[object, ...]
    message: bool


class FactName(str):
    """A fact that a comment is made of, and nothing else."""


_OPEN = "\x04"
"""How a piece begins that is still open: no template can print it, for it is no printable character."""


class Form(NamedTuple):
    """How an event looks, but for what differs from one like it to the next: its number words, and facts in its comments.

    lines    the pieces of each line; and its text, None where a piece of it is open
    open     of pieces that are open: the word by its name, or the comment, that a piece of that text stands for
    """

    lines: list[tuple[list[Printed], str | None]]
    open: dict[str, str | Remark]


def text_of(pieces: Iterable[Printed]) -> str:
    """A line by its pieces, stripped."""
    return "".join([piece.text for piece in pieces]).strip(" \t\r")


class Templates:
    """The templates of one profile: its own folder first, then its parents', then the shared ones."""

    def __init__(self, folders: Sequence[Path]) -> None:
        self._folders = tuple(folders)
        self._files: dict[str, str] = {}
        self._forms: dict[tuple[object, ...], Form] = {}
        self._read: dict[str, tuple[set[str], set[str]]] = {}
        self._environment = _Environment(
            loader=FunctionLoader(self._source),
            undefined=StrictUndefined,
            autoescape=False,
            trim_blocks=True,
            lstrip_blocks=True,
            keep_trailing_newline=True,
            optimized=False,  # there is nothing to be worked out beforehand, and looking for it takes its time at each start
            finalize=_finalize,
        )
        self._environment.globals.clear()
        self._environment.filters |= {"counted": _counted, "printed": _printed}

    def mistakes(self) -> Iterator[TemplateError]:
        """What is wrong with the templates of all events, and with what they include: to be known before a program is begun."""
        for name, row in EVENTS.items():
            if row.former and (found := _find(self._folders, row.former + ".j2")) is not None:
                wrong = f"no event is called {row.former} any more, so this template would be used for nothing: the event is now {name}"
                yield TemplateError(wrong, place=Place(file=str(found)), cure=f"rename the file to {name}.j2")
        checked: set[str] = set()
        files = [name + ".j2" for name in EVENTS]
        while files:
            for file in files:
                try:
                    self._guarded(file.removesuffix(".j2"), partial(self._environment.get_template, file))
                except TemplateError as error:
                    yield error
            checked |= set(files)
            files = sorted(set().union(*self._environment.includes.values()) - checked)

    def file_of(self, name: str) -> str:
        """The file that says how an event looks."""
        if name not in self._files:
            found = _find(self._folders, name + ".j2")
            self._files[name] = str(found) if found is not None else name + ".j2"
        return self._files[name]

    def form(
        self,
        event: Event,
        spelled: Callable[[str], str],
        codes: Callable[[], Mapping[str, str]],
        remark: Callable[[Remark], str],
        setting: Profile,
        places: Mapping[str, str],
    ) -> Form:
        """The form of an event, made once for all that agree in what its template reads to do more with it than print it.

        spelled  the text of one of the event's words, by its name
        codes    the words that are codes of the profile
        remark   the text of a comment, for a template that decides by it
        places   the places kept for motion or cycle blocks

        raises TemplateError with file and line
        """
        name, facts, words = event.name, event.facts, event.words
        if name not in self._read:
            row = EVENTS.get(name)
            any_fact = row is not None and any(word.code for word in row.words.values())  # a code may depend on each
            self._read[name] = set(facts) if any_fact else set(), set()
        by_facts, by_words = self._read[name]

        def key() -> tuple[object, ...]:
            values = [facts.get(one) for one in by_facts]
            return name, *places, *words, tuple(values), *map(type, values), *(spelled(word) for word in by_words if word in words)

        if (form := self._forms.get(key())) is not None:
            return form
        if len(self._forms) >= _MOST_KEPT:
            self._forms.clear()
        row_words = EVENTS[name].words if name in EVENTS else ()
        left_open: dict[str, str | Remark] = {f"{_OPEN}{word}": word for word in words}
        ready = {**dict.fromkeys(row_words, ""), **codes(), **{word: _OPEN + word for word in words}}

        def fact(one: str) -> object:
            by_facts.add(one)
            return _fact(facts[one])

        def word(one: str) -> object:
            by_words.add(one)
            return spelled(one) if one in words else ready[one]

        def shown(one: str) -> object:
            return word(one) if one in by_words else ready[one]

        def made(is_message: bool, is_open: bool, *parts: object) -> str:
            comment, mark = Remark(parts, is_message), f"{_OPEN}{len(left_open)}"
            if not is_open:
                return remark(comment)
            left_open[mark] = comment
            return mark

        names: dict[str, Any] = {
            "facts": _Names(fact),
            "words": _Names(word),
            "facts" + LATER: _Names({one: FactName(one) for one in facts}.__getitem__),
            "words" + LATER: _Names(shown),
            "setting": setting,
            "motion": places.get("motion", ""),
            "blocks": places.get("blocks", ""),
        }
        for function in ("comment", "message"):
            names |= {function + later: partial(made, function == "message", bool(later)) for later in ("", LATER)}
        lines = self._guarded(name, lambda: self._environment.lines_of(name + ".j2", names))
        texts = (None if any(piece.text in left_open for piece in line) else text_of(line) for line in lines)
        form = self._forms[key()] = Form(list(zip(lines, texts, strict=True)), left_open)
        return form

    def _source(self, name: str) -> tuple[str, str, Callable[[], bool]] | None:
        """The text of a template and its file, as jinja wants them; None where there is none."""
        path = _find(self._folders, name)
        if path is None:
            return None
        try:
            source = path.read_text(encoding="utf-8-sig")
        except (OSError, UnicodeDecodeError) as error:
            raise TemplateError(f"cannot be read: {error}", place=Place(file=str(path)), cure="save it as UTF-8 text") from error
        # So that what is included never runs on into the line after it.
        return source if source.endswith("\n") else source + "\n", str(path), lambda: True

    def _guarded(self, name: str, act: Callable[[], Any]) -> Any:
        file = self.file_of(name)
        try:
            return act()
        except SteadyrestError:
            raise
        except TemplateSyntaxError as error:
            place = Place(file=file, line=error.lineno)
            raise TemplateError(f"syntax error: {error.message}", place=place, cure="correct the template at that line") from error
        except TemplateNotFound as error:
            places = ", ".join(str(folder) for folder in self._folders) or "no folder"
            raise TemplateError(
                f"there is no template '{error.name}' (looked in: {places})",
                place=Place(file=file),
                cure="add the file to one of the folders",
            ) from error
        except Exception as error:  # whatever a template makes fail is the template's fault, and has a line there
            wrong, cure = next((wrong, cure) for kind, wrong, cure in _MISTAKES if isinstance(error, kind))
            raise TemplateError(wrong.format(error), place=_place(error, file), cure=cure) from error


_MISTAKES: tuple[tuple[type[Exception], str, str], ...] = (
    (UndefinedError, "unknown name: {}", "use a name that the event has; see the list of events"),
    (SecurityError, "not allowed in a template: {}", "a template prints words and comments, and reaches for nothing else"),
    (_NotPrintable, "{}", "print ready words (words.NAME), settings or comment(...)"),
    (RecursionError, "the template includes itself", "let no template include itself, nor one that includes it"),
    (Exception, "the template fails: {}", "correct the template at that line"),
)
"""What a template can do wrong while it is rendered, the first that fits, and the cure."""


class _Environment(ImmutableSandboxedEnvironment):
    """The sandbox, closed further: two functions can be called, and only settings and names can be read.

    Each piece that is printed is kept with what it is and which line of which template printed it.
    """

    steps = 0
    """Turns of loops and inclusions in the event that is rendered."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self.includes: dict[str, frozenset[str]] = {}

    def lines_of(self, file: str, names: Mapping[str, object]) -> list[list[Printed]]:
        """The pieces of each line that a template prints and that is not empty; no more of them than one event of a program may."""
        self.steps, self.printed, length = 0, list[Printed](), 0
        self._names = {id(names[name]): name.removesuffix(LATER) for name in ("words", "words" + LATER, "setting")}
        for text in self.get_template(file).generate(names):
            length += len(text)
            if length > MOST_CHARACTERS:
                raise ValueError(f"it prints more than {MOST_CHARACTERS:,} characters")
        lines: list[list[Printed]] = [[]]
        for piece in self.printed:
            for down, text in enumerate(piece.text.split("\n")):
                lines += [[]] if down else []
                lines[-1].append(piece._replace(text=text, line=piece.line + down))
        return [line for line in lines if text_of(line)]

    def count(self, steps: int) -> None:
        """Refuse an event whose loops and inclusions multiply; ValueError before they are gone through."""
        self.steps += steps
        if self.steps > MOST_STEPS:
            raise ValueError(f"its loops and inclusions come to more than {MOST_STEPS:,} turns")

    def get_template(self, name: Any, parent: Any = None, globals: Any = None) -> Any:
        """As jinja's, counted; text from outside names no template."""
        if isinstance(name, Outside):
            raise _NotPrintable("text from outside can only be printed as comment(...)")
        self.count(1)
        return super().get_template(name, parent, globals)

    def getattr(self, obj: Any, attribute: str) -> Any:
        """As jinja's; text says which name it has, in a list too."""
        value = super().getattr(obj, attribute)
        if id(obj) not in self._names:
            return value
        name = f"{self._names[id(obj)]}.{attribute}"
        if isinstance(value, str):
            return Named(value, name)
        if isinstance(value, tuple | list):
            return tuple(Named(one, name) if isinstance(one, str) else one for one in value)
        self._names[id(value)] = name
        return value

    def compile(self, source: Any, name: Any = None, filename: Any = None, raw: Any = False, defer_init: bool = False) -> Any:
        """As jinja's, each text of a file once; TemplateError or TemplateSyntaxError for what it may not hold."""
        key = source, filename
        if key not in _COMPILED:
            if len(_COMPILED) >= _MOST_KEPT:
                _COMPILED.clear()
            tree = self.parse(source, name, filename)
            every = list(tree.find_all(nodes.Node))
            check_template(every, Path(filename))
            names = [node.template for node in every if isinstance(node, nodes.Include)]
            includes = frozenset(name.value for name in names if isinstance(name, nodes.Const) and isinstance(name.value, str))
            for node in every:
                if isinstance(node, nodes.For):
                    node.iter = nodes.Filter(node.iter, "counted", [], [], None, None, lineno=node.lineno)
                elif isinstance(node, nodes.Output):
                    node.nodes = [_kept(piece, filename) for piece in node.nodes]
            _COMPILED[key] = super().compile(tree, name, filename), includes
        code, self.includes[name] = _COMPILED[key]
        return code

    def is_safe_callable(self, obj: Any) -> bool:
        return isinstance(obj, partial)

    def is_safe_attribute(self, obj: Any, attr: str, value: Any) -> bool:
        return not attr.startswith(("_", "model_")) and not callable(value)


def _kept(node: nodes.Expr, file: str) -> nodes.Expr:
    """Something that a template prints, passed through the filter that keeps it; a comment is made later, a word may differ."""
    call = node if isinstance(node, nodes.Call) else node.find(nodes.Call)
    facts = [part for part in call.args if isinstance(part, nodes.Getattr)] if call is not None else []
    spot = nodes.Const((tuple(part.attr for part in facts), call is not None, file, node.lineno))
    if isinstance(node, nodes.Call):
        _put_off(node, "comment", "message")
        for part in facts:
            _put_off(part, "facts")
    elif isinstance(node, nodes.Getattr):
        _put_off(node, "words")
    printed = nodes.Const(node.data) if isinstance(node, nodes.TemplateData) else node
    return nodes.Filter(printed, "printed", [spot], [], None, None, lineno=node.lineno)


def _put_off(node: nodes.Call | nodes.Getattr, *names: str) -> None:
    if isinstance(node.node, nodes.Name) and node.node.name in names:
        node.node.name += LATER


@pass_context
def _printed(context: Context, value: object, spot: tuple[tuple[str, ...], bool, str, int]) -> object:
    """Keep a piece of text that is printed; whatever else is printed by mistake is refused as ever."""
    if isinstance(value, str):
        facts, called, file, line = spot
        name = value.name if isinstance(value, Named) else "comment" if called else ""
        context.environment.printed.append(Printed(str(value), name, facts, file, line))  # type: ignore[attr-defined]
    return value


@pass_environment
def _counted(environment: _Environment, items: Iterable[object]) -> tuple[object, ...]:
    """What a loop goes through, once it is known that it is not too much."""
    if isinstance(items, Outside):
        raise _NotPrintable("text from outside can only be printed as comment(...)")
    gone_through = tuple(items)
    environment.count(len(gone_through))
    return gone_through


_MOST_KEPT = 2_000
_COMPILED: dict[tuple[str, str], tuple[Any, frozenset[str]]] = {}
"""The code of a text in a file, and what it includes: whoever tries a profile out writes hundreds of programs with the same ones."""


def _find(folders: Iterable[Path], name: str) -> Path | None:
    if "/" in name or "\\" in name or name.startswith("."):
        return None
    return next((path for folder in folders if (path := folder / name).is_file()), None)


def _fact(value: object) -> object:
    if isinstance(value, str):
        return Outside(value)
    if isinstance(value, tuple):
        return tuple(_fact(one) for one in value)
    return value


def _finalize(value: object) -> object:
    if isinstance(value, Undefined):
        return str(value)  # a strict undefined name raises here
    if isinstance(value, Outside):
        raise _NotPrintable("text from outside can only be printed as comment(...)")
    if not isinstance(value, str):
        raise _NotPrintable(f"a template formats no numbers, and this {type(value).__name__} is no ready text")
    return value


def _place(error: BaseException, file: str) -> Place:
    """The line of the template in which an error came up: the deepest frame that lies in a template file."""
    for frame in reversed(traceback.extract_tb(error.__traceback__)):
        if frame.filename.endswith(".j2"):
            return Place(file=frame.filename, line=frame.lineno)
    return Place(file=file)
