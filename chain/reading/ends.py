"""Ports that joins, signals and tones name, looked up among the elements."""

from dataclasses import dataclass

from chain.reading.context import SpoiltError
from chain.reading.elements import ElementDraft
from chain.reading.names import WrittenEnd
from chain.reading.problems import MistakeError
from chain.reading.routes import no_port, port_called
from chain.suggestions import choose, shown


@dataclass(frozen=True)
class End:
    """A port found: of every copy where `number` is None and the element has copies."""

    draft: ElementDraft
    number: int | None
    port: str | None
    """None where the element has mistakes, so that its ports are not known."""
    written: WrittenEnd

    @property
    def copies(self):
        """How many ports this names: None for one."""
        row = self.draft.row
        return None if self.number is not None or row is None else row.copies

    def of(self, number):
        """Return (id, port) in copy `number`; raises MistakeError where that copy has it not."""
        number = self.number or number
        id = id_of(self.draft, number)
        differing = self.draft.differing.get(number)
        if differing is not None and self.port is not None and self.port not in differing.ports:
            raise MistakeError(
                self.written.place,
                f"the port {id}.{self.port} carries a load or is not there in this copy",
                f"change what `except` gives for {self.draft.id}, or except this copy here too",
            )
        return id, self.port


def id_of(draft, number):
    """Return the id of an element's copy; that of the element where it has none."""
    return draft.id if draft.row.copies is None else f"{draft.id}-{number}"


def find_end(written, written_lines, called):
    """Return the End that was written; raises MistakeError, or SpoiltError where copies are wrong.

    `called` begins the message.
    """
    draft = written_lines.drafts.get(written.id)
    if draft is None:
        raise MistakeError(
            written.place, f"{called}: there is no element {shown(written.id)}",
            choose(written.id, written_lines.drafts, "elements"),
        )
    _check_number(written, draft, called)
    element = draft.copy(written.number)
    if element is None:
        return End(draft, written.number, None, written)
    return End(draft, written.number, _port(written, element, called), written)


def _check_number(written, draft, called):
    copies = draft.row.copies
    if draft.row.copies_wrong:
        raise SpoiltError
    if written.number is None or (copies is not None and 1 <= written.number <= copies):
        return
    if copies is None:
        raise MistakeError(
            written.place, f"{called}: {written.id} has no copies", f"write {written.id} alone"
        )
    raise MistakeError(
        written.place, f"{called}: {written.id} has no copy {written.number}",
        f"give a number from 1 to {copies}",
    )


def _port(written, element, called):
    every = tuple(element.kind.ports(element.settings))
    if written.port is None:
        if len(element.ports) == 1:
            return element.ports[0]
        raise MistakeError(
            written.place, f"{called}: {written.id} has more than one port",
            f"say which: {' or '.join(f'{written.id}.{port}' for port in every)}",
        )
    port = port_called(written.port, every, element.settings)
    if port is None:
        raise no_port(written.place, written.id, written.port, every, f"{called}: ")
    if port not in element.ports:
        raise MistakeError(
            written.place, f"{called}: {written.id}.{port} carries a load",
            f"take {port!r} out of the loads of {written.id}, or name another port",
        )
    return port
