"""How an event's template is found, checked before anything is written, and rendered.

A template says how an event looks; it computes nothing. What it may use is listed in `template_rules`; all else is an
error that names the file and the line. It is rendered in a sandbox in which `comment` and `message` are the only things
that can be called, and text from outside can be printed through these two only.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from jinja2 import BaseLoader, StrictUndefined, Undefined, nodes, pass_context, pass_environment
from jinja2 import Environment as JinjaEnvironment
from jinja2.exceptions import SecurityError, TemplateNotFound, TemplateSyntaxError, UndefinedError
from jinja2.runtime import Context
from jinja2.sandbox import ImmutableSandboxedEnvironment

from steadyrest.errors import Place, SteadyrestError, TemplateError
from steadyrest.events import EVENTS
from steadyrest.profile import Profile
from steadyrest.writing.recording import Named, Printed
from steadyrest.writing.template_rules import check_template

MOST_STEPS = 20_000
MOST_CHARACTERS = 1_000_000
"""Of one event: a list of a thousand tools, gone through twenty times, in lines as long as any controller takes."""


class Outside:
    """Text from outside, not cleaned: a template can compare it and hand it to `comment`, and never print it."""

    __slots__ = ("raw",)

    def __init__(self, raw: str) -> None:
        self.raw = raw

    def __eq__(self, other: object) -> bool:
        return self.raw == (other.raw if isinstance(other, Outside) else other)

    def __hash__(self) -> int:
        return hash(self.raw)

    def __bool__(self) -> bool:
        return bool(self.raw)

    def __len__(self) -> int:
        return len(self.raw)

    def __str__(self) -> str:
        raise _NotPrintable("text from outside can only be printed as comment(...)")


class _NotPrintable(Exception):
    pass


class Whole(int):
    """A whole number among the facts: to decide by and to hand to `comment`, never to print as it stands."""

    def __str__(self) -> str:
        raise _NotPrintable("a template formats no numbers")

    __repr__ = __format__ = __str__  # type: ignore[assignment]


class Namespace:
    """What stands behind `facts` and `words`: names that can be read and nothing else."""

    __slots__ = ("_names",)

    def __init__(self, names: Mapping[str, object]) -> None:
        self._names = dict(names)

    def __getattr__(self, name: str) -> object:
        try:
            return self._names[name]
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
_LATER = "_later"
"""What the two functions are called where what they give is printed and nothing else."""


@dataclass(frozen=True, slots=True)
class Form:
    """How an event looks, but for what differs from one like it to the next: its number words, and facts in its comments.

    lines    the pieces of each line; and its text, None where a piece of it is open
    open     of pieces that are open: the word by its name, or the comment, that a piece of that text stands for
    """

    lines: list[tuple[list[Printed], str | None]]
    open: dict[str, str | Remark]

    def left_open(self, pieces: Iterable[Printed]) -> Iterator[tuple[str, str | Remark]]:
        """The texts of those pieces of a line that are open, and what each stands for."""
        return ((piece.text, self.open[piece.text]) for piece in pieces if piece.text in self.open)


def text_of(pieces: Iterable[Printed]) -> str:
    """A line by its pieces, stripped."""
    return "".join([piece.text for piece in pieces]).strip(" \t\r")


class Templates:
    """The templates of one profile: its own folder first, then its parents', then the shared ones."""

    def __init__(self, folders: Sequence[Path]) -> None:
        self._folders = tuple(folders)
        self._files: dict[str, str] = {}
        self._forms: dict[tuple[object, ...], Form] = {}
        self._deciding: dict[str, tuple[list[str] | None, list[str] | None]] = {}
        self._environment = _Environment(
            loader=_Folders(self._folders),
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
            files = sorted({file for uses in self._environment.uses.values() for file in uses.includes} - checked)

    def file_of(self, name: str) -> str:
        """The file that says how an event looks."""
        if name not in self._files:
            found = _find(self._folders, name + ".j2")
            self._files[name] = str(found) if found is not None else name + ".j2"
        return self._files[name]

    def form(
        self,
        name: str,
        facts: Mapping[str, object],
        words: Collection[str],
        said: Callable[[str], str],
        codes: Callable[[], Mapping[str, str]],
        remark: Callable[[Remark], str],
        setting: Profile,
        places: Mapping[str, str],
    ) -> Form:
        """The form of an event, made once for all that agree in what its template decides by.

        words    the names of those that differ from event to event, `said` the text of one
        codes    the words that are codes of the profile
        remark   the text of a comment, for a template that decides by it
        places   the places kept for motion or cycle blocks

        raises TemplateError with file and line
        """
        by_facts, by_words = self._deciding.get(name) or self._decided_by(name)
        deciding = facts if by_facts is None else {fact: facts[fact] for fact in by_facts if fact in facts}
        spelled = {word: said(word) for word in words if by_words is None or word in by_words}
        key = (name, *places, *words, *deciding, *deciding.values(), *map(type, deciding.values()), *spelled.values())
        if key not in self._forms:
            if len(self._forms) >= _MOST_KEPT:
                self._forms.clear()
            shown = {fact: _fact(value) if fact in deciding else FactName(fact) for fact, value in facts.items()}
            left_open: dict[str, str | Remark] = {f"{_OPEN}{word}": word for word in words if word not in spelled}
            ready = dict.fromkeys(EVENTS[name].words if name in EVENTS else (), "")
            ready |= {**codes(), **spelled, **{str(word): mark for mark, word in left_open.items()}}
            self._forms[key] = self._rendered(name, shown, Namespace(ready), left_open, remark, setting, places)
        return self._forms[key]

    def _rendered(
        self,
        name: str,
        facts: Mapping[str, object],
        ready: Namespace,
        left_open: dict[str, str | Remark],
        remark: Callable[[Remark], str],
        setting: Profile,
        places: Mapping[str, str],
    ) -> Form:
        def made(is_message: bool, is_open: bool, *parts: object) -> str:
            one, mark = Remark(parts, is_message), f"{_OPEN}{len(left_open)}"
            if not is_open:
                return remark(one)
            left_open[mark] = one
            return mark

        calls = {
            name + later: _Callable(partial(made, name == "message", bool(later)))
            for name in ("comment", "message")
            for later in ("", _LATER)
        }
        self._environment.begin({"words": ready, "setting": setting})
        self._guarded(
            name,
            lambda: self._environment.print_all(
                self._environment.get_template(name + ".j2").generate(
                    facts=Namespace(facts),
                    words=ready,
                    setting=setting,
                    **calls,
                    motion=places.get("motion", ""),
                    blocks=places.get("blocks", ""),
                )
            ),
        )
        lines = self._environment.printed_lines()
        texts = (None if any(piece.text in left_open for piece in line) else text_of(line) for line in lines)
        return Form(list(zip(lines, texts, strict=True)), left_open)

    def _decided_by(self, name: str) -> tuple[list[str] | None, list[str] | None]:
        """The facts and the words that decide how an event looks, in order; None: all may."""
        self._guarded(name, partial(self._environment.get_template, name + ".j2"))
        met, left, names = {name + ".j2"}, [name + ".j2"], set[str]()
        while left:
            uses = self._environment.uses[left.pop()]
            for other in uses.includes - met:
                self._guarded(name, partial(self._environment.get_template, other))
                met.add(other)
                left.append(other)
            names |= uses.deciding
        codes = name in EVENTS and any(word.code for word in EVENTS[name].words.values())
        found = [
            None
            if root in names or (codes and root == "facts")
            else sorted(each[len(root) + 1 :] for each in names if each.startswith(root))
            for root in ("facts", "words")
        ]
        self._deciding[name] = found[0], found[1]
        return self._deciding[name]

    def _guarded(self, name: str, act: Callable[[], Any]) -> Any:
        file = self.file_of(name)
        try:
            return act()
        except SteadyrestError:
            raise
        except TemplateSyntaxError as error:
            place = Place(file=error.filename or file, line=error.lineno)
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
        self.uses: dict[str, _Uses] = {}

    def begin(self, roots: Mapping[str, object]) -> None:
        """An event is about to be rendered; what is read from these roots knows its name."""
        self.steps = 0
        self.printed: list[Printed] = []
        self._names = {id(root): name for name, root in roots.items()}

    def count(self, steps: int) -> None:
        """Refuse an event whose loops and inclusions multiply; ValueError before they are gone through."""
        self.steps += steps
        if self.steps > MOST_STEPS:
            raise ValueError(f"its loops and inclusions come to more than {MOST_STEPS:,} turns")

    def print_all(self, pieces: Iterable[str]) -> None:
        """Have a template print, no more than one event of a program may."""
        length = 0
        for piece in pieces:
            length += len(piece)
            if length > MOST_CHARACTERS:
                raise ValueError(f"it prints more than {MOST_CHARACTERS:,} characters")

    def printed_lines(self) -> list[list[Printed]]:
        """The pieces of each line that is not empty."""
        lines: list[list[Printed]] = [[]]
        for piece in self.printed:
            for down, text in enumerate(piece.text.split("\n")):
                lines += [[]] if down else []
                lines[-1].append(piece._replace(text=text, line=piece.line + down))
        return [line for line in lines if text_of(line)]

    def get_template(self, name: Any, parent: Any = None, globals: Any = None) -> Any:
        """As jinja's, and counted."""
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
            uses = _uses(every)
            for node in every:
                if isinstance(node, nodes.For):
                    node.iter = nodes.Filter(node.iter, "counted", [], [], None, None, lineno=node.lineno)
                elif isinstance(node, nodes.Output):
                    node.nodes = [_kept(piece, filename) for piece in node.nodes]
            _COMPILED[key] = super().compile(tree, name, filename), uses
        code, self.uses[name] = _COMPILED[key]
        return code

    def is_safe_callable(self, obj: Any) -> bool:
        return isinstance(obj, _Callable)

    def is_safe_attribute(self, obj: Any, attr: str, value: Any) -> bool:
        return not attr.startswith(("_", "model_")) and not callable(value)


def _kept(node: nodes.Expr, file: str) -> nodes.Expr:
    """Something that a template prints, passed through the filter that keeps it; a comment is made later."""
    if isinstance(node, nodes.Call) and isinstance(node.node, nodes.Name):
        node.node.name += _LATER
    call = node if isinstance(node, nodes.Call) else node.find(nodes.Call)
    facts = [part.attr for part in call.args if isinstance(part, nodes.Getattr)] if call is not None else []
    spot = nodes.Const((tuple(facts), call is not None, file, node.lineno))
    printed = nodes.Const(node.data) if isinstance(node, nodes.TemplateData) else node
    return nodes.Filter(printed, "printed", [spot], [], None, None, lineno=node.lineno)


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
    gone_through = tuple(items)
    environment.count(len(gone_through))
    return gone_through


class _Callable:
    __slots__ = ("_function",)

    def __init__(self, function: Callable[..., str]) -> None:
        self._function = function

    def __call__(self, *parts: object) -> str:
        return self._function(*parts)


class _Folders(BaseLoader):
    """Looks a template up in the folders in order."""

    def __init__(self, folders: Sequence[Path]) -> None:
        self._folders = folders

    def get_source(self, environment: JinjaEnvironment, template: str) -> tuple[str, str, Callable[[], bool]]:
        path = _find(self._folders, template)
        if path is None:
            raise TemplateNotFound(template)
        try:
            source = path.read_text(encoding="utf-8-sig")
            # So that what is included never runs on into the line after it.
            source += "" if source.endswith("\n") else "\n"
        except (OSError, UnicodeDecodeError) as error:
            raise TemplateError(f"cannot be read: {error}", place=Place(file=str(path)), cure="save it as UTF-8 text") from error
        return source, str(path), lambda: True


class _Uses(NamedTuple):
    """What a template includes, and the facts and words by which it does more than print them, such as `facts.first`; `facts`: by any."""

    includes: frozenset[str]
    deciding: frozenset[str]


def _uses(every: Sequence[nodes.Node]) -> _Uses:
    printed = [node for output in every if isinstance(output, nodes.Output) for node in output.nodes]
    shown = [(node, "words") for node in printed]
    shown += [(part, "facts") for node in printed if isinstance(node, nodes.Call) for part in node.args]
    attributes = {id(node.node): node for node in every if isinstance(node, nodes.Getattr)}
    only_shown = {(id(node), root) for node, root in shown}
    deciding = {
        f"{node.name}.{attributes[id(node)].attr}" if id(node) in attributes else node.name
        for node in every
        if isinstance(node, nodes.Name) and node.name in ("words", "facts") and (id(attributes.get(id(node))), node.name) not in only_shown
    }
    names = [node.template for node in every if isinstance(node, nodes.Include)]
    known = [name.value for name in names if isinstance(name, nodes.Const) and isinstance(name.value, str)]
    return _Uses(frozenset(known), frozenset(deciding | ({"words", "facts"} if len(known) < len(names) else set())))


_MOST_KEPT = 2_000
_COMPILED: dict[tuple[str, str], tuple[Any, _Uses]] = {}
"""The code of a text in a file, and what it uses: whoever tries a profile out writes hundreds of programs with the same ones."""


def _find(folders: Iterable[Path], name: str) -> Path | None:
    if "/" in name or "\\" in name or name.startswith("."):
        return None
    return next((path for folder in folders if (path := folder / name).is_file()), None)


def _fact(value: object) -> object:
    if isinstance(value, str):
        return Outside(value)
    if isinstance(value, tuple):
        return tuple(_fact(one) for one in value)
    if isinstance(value, int) and not isinstance(value, bool):
        return Whole(value)
    return value


def _finalize(value: object) -> object:
    if isinstance(value, Undefined):
        return str(value)  # a strict undefined name raises here
    if isinstance(value, Outside):
        return str(value)
    if not isinstance(value, str):
        raise _NotPrintable(f"a template formats no numbers, and this {type(value).__name__} is no ready text")
    return value


def _place(error: BaseException, file: str) -> Place:
    """The line of the template in which an error came up: the deepest frame that lies in a template file."""
    for frame in reversed(traceback.extract_tb(error.__traceback__)):
        if frame.filename.endswith(".j2"):
            return Place(file=frame.filename, line=frame.lineno)
    return Place(file=file)
