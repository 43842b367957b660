"""How an event's template is found, checked before anything is written, and rendered.

A template says how an event looks; it computes nothing. What it may use is listed in `template_rules`; all else is an
error that names the file and the line. It is rendered in a sandbox in which `comment` and `message` are the only things
that can be called, and text from outside can be printed through these two only.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from jinja2 import BaseLoader, BytecodeCache, StrictUndefined, Undefined, nodes, pass_context, pass_environment
from jinja2 import Environment as JinjaEnvironment
from jinja2.bccache import Bucket
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


class Templates:
    """The templates of one profile: its own folder first, then its parents', then the shared ones.

    recorded   what a template prints is kept piece by piece: slower, the text is the same
    """

    def __init__(self, folders: Sequence[Path], *, recorded: bool = False) -> None:
        self._folders = tuple(folders)
        self._files: dict[str, str] = {}
        self._folders_loader = _Folders(self._folders)
        self._environment = (_RecordingEnvironment if recorded else _Environment)(
            loader=self._folders_loader,
            undefined=StrictUndefined,
            autoescape=False,
            trim_blocks=True,
            lstrip_blocks=True,
            keep_trailing_newline=True,
            finalize=_finalize,
            bytecode_cache=_COMPILED_RECORDING if recorded else _COMPILED,
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
            files = sorted(self._folders_loader.included - checked)

    def file_of(self, name: str) -> str:
        """The file that says how an event looks."""
        if name not in self._files:
            found = _find(self._folders, name + ".j2")
            self._files[name] = str(found) if found is not None else name + ".j2"
        return self._files[name]

    def render(
        self,
        name: str,
        facts: Mapping[str, object],
        words: Mapping[str, str],
        setting: Profile,
        comment: Callable[..., str],
        message: Callable[..., str],
        motion: Mapping[str, str],
    ) -> tuple[list[str], list[list[Printed]]]:
        """The lines of an event, stripped, empty ones left out, and the pieces of each; none unless recorded.

        motion   the places kept for motion or cycle blocks

        raises TemplateError with file and line
        """
        known = EVENTS[name].words.keys() if name in EVENTS else set()
        ready = Namespace({word: words.get(word, "") for word in known | words.keys()})
        self._environment.begin({"words": ready, "setting": setting})
        text: str = self._guarded(
            name,
            lambda: _bounded(
                self._environment.get_template(name + ".j2").generate(
                    facts=Namespace({key: _fact(value) for key, value in facts.items()}),
                    words=ready,
                    setting=setting,
                    comment=_Callable(comment),
                    message=_Callable(message),
                    motion=motion.get("motion", ""),
                    blocks=motion.get("blocks", ""),
                )
            ),
        )
        lines = [line for raw in text.split("\n") if (line := raw.strip(" \t\r"))]
        return lines, self._environment.recorded_lines()

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
    """The sandbox, closed further: two functions can be called, and only settings and names can be read."""

    steps = 0
    """Turns of loops and inclusions in the event that is rendered."""

    def begin(self, roots: Mapping[str, object]) -> None:
        """An event is about to be rendered, with these names in its reach."""
        self.steps = 0

    def recorded_lines(self) -> list[list[Printed]]:
        """The pieces of each line that was rendered."""
        return []

    def count(self, steps: int) -> None:
        """Refuse an event whose loops and inclusions multiply; ValueError before they are gone through."""
        self.steps += steps
        if self.steps > MOST_STEPS:
            raise ValueError(f"its loops and inclusions come to more than {MOST_STEPS:,} turns")

    def get_template(self, name: Any, parent: Any = None, globals: Any = None) -> Any:
        """As jinja's, and counted."""
        self.count(1)
        return super().get_template(name, parent, globals)

    def _generate(self, source: nodes.Template, name: str | None, filename: str | None, defer_init: bool = False) -> str:
        for loop in source.find_all(nodes.For):
            loop.iter = nodes.Filter(loop.iter, "counted", [], [], None, None, lineno=loop.lineno)
        return super()._generate(source, name, filename, defer_init)

    def is_safe_callable(self, obj: Any) -> bool:
        return isinstance(obj, _Callable)

    def is_safe_attribute(self, obj: Any, attr: str, value: Any) -> bool:
        return not attr.startswith(("_", "model_")) and not callable(value)


class _RecordingEnvironment(_Environment):
    """The same, and each piece that is printed is kept with what it is and which line of which template printed it."""

    def begin(self, roots: Mapping[str, object]) -> None:
        """As above; what is read from these roots knows its name."""
        super().begin(roots)
        self.printed: list[Printed] = []
        self._names = {id(root): name for name, root in roots.items()}

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

    def _generate(self, source: nodes.Template, name: str | None, filename: str | None, defer_init: bool = False) -> str:
        for output in source.find_all(nodes.Output):
            output.nodes = [_kept(node, filename or "") for node in output.nodes]
        return super()._generate(source, name, filename, defer_init)

    def recorded_lines(self) -> list[list[Printed]]:
        """The pieces of each line, as the text is taken apart into lines."""
        lines: list[list[Printed]] = [[]]
        for piece in self.printed:
            for down, text in enumerate(piece.text.split("\n")):
                lines += [[]] if down else []
                lines[-1].append(replace(piece, text=text, line=piece.line + down))
        return [line for line in lines if "".join(piece.text for piece in line).strip(" \t\r")]


def _kept(node: nodes.Expr, file: str) -> nodes.Expr:
    """Something that a template prints, passed through the filter that keeps it."""
    call = node if isinstance(node, nodes.Call) else node.find(nodes.Call)
    facts = [part.attr for part in call.args if isinstance(part, nodes.Getattr)] if call is not None else []
    spot = [nodes.Const(value) for value in (tuple(facts), call is not None, file, node.lineno)]
    printed = nodes.Const(node.data) if isinstance(node, nodes.TemplateData) else node
    return nodes.Filter(printed, "printed", spot, [], None, None, lineno=node.lineno)


@pass_context
def _printed(context: Context, value: object, facts: tuple[str, ...], called: bool, file: str, line: int) -> object:
    """Keep a piece of text that is printed; whatever else is printed by mistake is refused as ever."""
    if isinstance(value, str):
        name = value.name if isinstance(value, Named) else "comment" if called else ""
        context.environment.printed.append(Printed(str(value), name, facts, file, line))  # type: ignore[attr-defined]
    return value


@pass_environment
def _counted(environment: _Environment, items: Iterable[object]) -> tuple[object, ...]:
    """What a loop goes through, once it is known that it is not too much."""
    gone_through = tuple(items)
    environment.count(len(gone_through))
    return gone_through


def _bounded(pieces: Iterable[str]) -> str:
    """The text of an event, as long as it is one of a program."""
    kept: list[str] = []
    length = 0
    for piece in pieces:
        length += len(piece)
        if length > MOST_CHARACTERS:
            raise ValueError(f"it prints more than {MOST_CHARACTERS:,} characters")
        kept.append(piece)
    return "".join(kept)


class _Callable:
    __slots__ = ("_function",)

    def __init__(self, function: Callable[..., str]) -> None:
        self._function = function

    def __call__(self, *parts: object) -> str:
        return self._function(*parts)


class _Folders(BaseLoader):
    """Looks a template up in the folders in order, and checks it before it is compiled."""

    def __init__(self, folders: Sequence[Path]) -> None:
        self._folders = folders
        self.included: set[str] = set()

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
        self.included |= _checked(environment, source, template, path)
        return source, str(path), lambda: True


class _InMemory(BytecodeCache):
    """Compiled templates of this process, by their text: whoever tries a profile out writes hundreds of programs with the same ones."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        found = self._kept.get((bucket.key, bucket.checksum))
        if found is not None:
            bucket.bytecode_from_string(found)

    def dump_bytecode(self, bucket: Bucket) -> None:
        if len(self._kept) >= _MOST_KEPT:
            self._kept.clear()
        self._kept[bucket.key, bucket.checksum] = bucket.bytecode_to_string()


_MOST_KEPT = 2_000
_COMPILED, _COMPILED_RECORDING = _InMemory(), _InMemory()


def _checked(environment: JinjaEnvironment, source: str, template: str, path: Path) -> frozenset[str]:
    """What a template includes; TemplateError or TemplateSyntaxError for what it may not hold."""
    key = (source, template, path)
    if key not in _CHECKED:
        tree = environment.parse(source, template, str(path))
        check_template(tree, path, EVENTS.get(path.stem))
        names = (node.template for node in tree.find_all(nodes.Include))
        if len(_CHECKED) >= _MOST_KEPT:
            _CHECKED.clear()
        _CHECKED[key] = frozenset(name.value for name in names if isinstance(name, nodes.Const) and isinstance(name.value, str))
    return _CHECKED[key]


_CHECKED: dict[tuple[str, str, Path], frozenset[str]] = {}
"""By text, name and file: what was found right is right the next time."""


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
