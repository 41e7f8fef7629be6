"""Questions for ``[job]``: serial, names, times, the state of the machine."""

from vibhealth.errors import JobError
from vibhealth.job._item import Phase
from vibhealth.job._question import Edit, Question, Reply
from vibhealth.job.typed import typed_time

__all__ = ["choice_question", "name_question", "text_question", "time_question"]

YES_NO = {"y": "yes", "yes": "yes", "n": "no", "no": "no"}


def text_question(key: str, phase: Phase, text: str, why: str) -> Question:
    """A question for a word or two of ``[job]``."""

    def edit(reply: Reply) -> Edit:
        if reply.text.lower() in YES_NO:
            msg = f'"{reply.text}" is no answer; type it as it is written there'
            raise JobError(msg)
        return Edit(said=reply.text, changes={("job", key): reply.text})

    return Question(
        id=f"job.{key}",
        phase=phase,
        text=text,
        form="text",
        why=why,
        is_open=lambda record: not getattr(record.job, key),
        edit=edit,
    )


def name_question(key: str, phase: Phase, text: str, why: str) -> Question:
    """A question for a name of ``[job]``; ``y`` stands for who answers."""

    def edit(reply: Reply) -> Edit:
        is_self = reply.text.lower() in {"y", "yes", "me"}
        name = reply.by if is_self else reply.text
        return Edit(said=name, changes={("job", key): name})

    return Question(
        id=f"job.{key}",
        phase=phase,
        text=text,
        form="name, y = you",
        why=why,
        is_open=lambda record: not getattr(record.job, key),
        edit=edit,
    )


def time_question(key: str, phase: Phase, text: str, why: str) -> Question:
    """A question for a time of ``[job]``."""

    def edit(reply: Reply) -> Edit:
        at = reply.written(typed_time(reply.text, now=reply.at))
        return Edit(said=at.isoformat(sep=" "), changes={("job", key): at})

    return Question(
        id=f"job.{key}",
        phase=phase,
        text=text,
        form="13:05, 2031-03-05 13:05, or now",
        why=why,
        is_open=lambda record: getattr(record.job, key) is None,
        edit=edit,
    )


def choice_question(
    key: str, phase: Phase, text: str, why: str, *, choices: tuple[str, ...] = ()
) -> Question:
    """A question for one of some words of ``[job]``; without words, for yes or no."""

    def edit(reply: Reply) -> Edit:
        known = {word[0]: word for word in choices} | {word: word for word in choices} or YES_NO
        value = known.get(reply.text.lower())
        if value is None:
            msg = f'"{reply.text[:40]}" is no answer; type {form}'
            raise JobError(msg)
        return Edit(said=value, changes={("job", key): value})

    form = " / ".join(choices) or "y / n"
    return Question(
        id=f"job.{key}",
        phase=phase,
        text=text,
        form=form,
        why=why,
        is_open=lambda record: getattr(record.job, key) in {"", "not checked"},
        edit=edit,
    )
