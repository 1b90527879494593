"""The command that reads a list of any shape: tells what was understood, asks, brings it in once all is confirmed."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fibrebook.cli.printed import frame_rows, needs_attention, open_register, say, with_register
from fibrebook.errors import InputError, place_in_words
from fibrebook.words.lists import both

if TYPE_CHECKING:
    from fibrebook.readers.lists.reading import Reading

MOST_SHOWN = 12  # questions printed at once; all stand in the file of questions
SKIP, STOP = "", "stop"


@click.command("read-list", short_help="Read a firm's own list of any shape.")
@click.argument("path", metavar="FILE")
@click.option("--layout", metavar="TOML", help="What was said of a list of this shape before.")
@click.option("--ask", is_flag=True, help="Ask here, question by question.")
@click.option("--answers", metavar="TOML", help="Answers, in a file that --questions wrote.")
@click.option("--questions", metavar="TOML", help="Write what is still asked to a file, to be answered there.")
@click.option("--keep", metavar="TOML", help="Keep what was said as a layout for the next list of this shape.")
@click.option("--bring-in", "bring", is_flag=True, help="Bring it into the register, as one commit.")
@click.option("--keep-questions", is_flag=True, help="Bring in what is sound; keep the rest as a workbook and snags.")
@click.option("--by", metavar="INITIALS", help="Who does this; kept with the commit.")
@click.option("--why", metavar="TEXT", help="What for; kept with the commit.")
@with_register
def read_list_file(
    where: str | None, as_json: bool, path: str, layout: str | None, ask: bool, answers: str | None,
    questions: str | None, keep: str | None, bring: bool, keep_questions: bool, by: str | None, why: str | None,
) -> None:  # fmt: skip
    """Read FILE (.xlsx, .xls, .ods, .csv, text) of any shape, and tell in sentences what was understood."""
    from fibrebook.readers.lists.reading import read_list

    if bring and not (by and why):
        raise InputError("who brings it in, and what for? Give --by and --why")
    codes = open_register(where).own_codes() if bring else None
    reading = read_list(path, layout, _answers(answers) if answers else None, colour_codes=codes)
    if ask:
        _ask(reading)
    for target, text in ((questions, _questions_text(reading)), (keep, reading.layout())):
        if target:
            _write(target, text)
    if not bring:
        say(as_json, _content(reading), _reading_in_words(reading))
    else:
        from fibrebook.workbook import bring_in

        reg = open_register(where, read_only=False)
        report = bring_in(reg, reading, by=str(by), why=str(why), keep_questions=keep_questions)
        say(as_json, report.to_dict(), str(report))
    if bring and reading.asked:
        needs_attention()


def _content(reading: Reading) -> dict[str, Any]:
    return {
        "cells": reading.counts(),
        "facts": {kind: frame_rows(frame) for kind, frame in reading.facts.items()},
        "questions": [
            {"key": q.key, "sheet": q.sheet, "text": q.text, "what": q.what, "proposals": list(q.proposals)}
            for q in reading.asked
        ],
    }


def _reading_in_words(reading: Reading) -> str:
    counts = reading.counts()
    lines = [f"{reading.book.name}: {both([s.name for s in reading.book.sheets][:8])}", *reading.book.says]
    total = sum(counts.values())
    told = f"{counts['used']} used, {counts['left out']} left out by a rule, {counts['question']} a question"
    lines.append(f"{total} cells: {told}")
    found = [f"{len(rows)} {kind}" for kind, rows in reading.whole.facts.by_kind.items() if rows]
    lines.append(f"Understood so far: {both(found)}." if found else "Nothing is understood so far.")
    asked = reading.asked
    if not asked:
        lines.append("Nothing is asked any more.")
    for number, q in enumerate(asked[:MOST_SHOWN], 1):
        lines.append(f"{number}. {q.what}" + (f" [{' / '.join(q.proposals)}]" if q.proposals else ""))
    if len(asked) > MOST_SHOWN:
        lines.append(f"... and {len(asked) - MOST_SHOWN} more")
    if asked:
        lines.append("Answer here with --ask, or write them to a file with --questions and give it back: --answers.")
    return "\n".join(lines)


def _ask(reading: Reading) -> None:
    """Ask one question after the other, those that nothing was said to passed over; "stop" ends it."""
    passed: set[str] = set()
    while True:
        question = next((q for q in reading.asked if q.key not in passed), None)
        if question is None:
            return
        click.echo(f"\n{question.what}")
        for number, proposal in enumerate(question.proposals, 1):
            click.echo(f"  {number}. {proposal}")
        said = click.prompt("Number, another answer, nothing to pass over, or stop", default=SKIP, show_default=False)
        if said == STOP:
            return
        if said == SKIP:
            passed.add(question.key)
            continue
        chosen = int(said) if said.isascii() and said.isdecimal() and len(said) < 4 else 0
        reading.answer(question.key, question.proposals[chosen - 1] if 1 <= chosen <= len(question.proposals) else said)


def _questions_text(reading: Reading) -> str:
    import tomli_w

    rows = [{"what": q.what, "proposals": list(q.proposals), "answer": "", "key": q.key} for q in reading.asked]
    answered = [{"key": k, "answer": v} for k, v in reading.said.answers.items()]
    return tomli_w.dumps({"question": rows, "answered": answered})


def _answers(path: str) -> dict[str, object]:
    from fibrebook.regular_files import read_regular

    with place_in_words(f"the answers {path} cannot be read"):
        data = read_regular(Path(path), 5_000_000)
    try:
        content = tomllib.loads(data.decode("utf-8"))
        rows = [*content.get("answered", []), *content.get("question", [])]
        return {str(r["key"]): str(r["answer"]) for r in rows if str(r.get("answer", "")).strip()}
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise InputError(f"{path} holds no answers as --questions writes them ({error})") from error


def _write(target: str, text: str) -> None:
    path = Path(target)
    if path.exists():
        raise InputError(f"{path} is there already: choose another name")
    with place_in_words(f"{path} cannot be written"):
        path.write_text(text, encoding="utf-8")
