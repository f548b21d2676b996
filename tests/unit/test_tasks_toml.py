"""Task files in TOML: what is read, and the one line that each mistake gets."""

from __future__ import annotations

import random
import time

import pytest

from flightlog.errors import TaskFileError
from flightlog.tasks.toml_tasks import parse_toml_task

HEAD = """name = "Ridge run"
kind = "race"
start_opens = 2026-06-14T11:30:00Z
deadline = 2026-06-14T17:00:00+02:00
start_gates_s = [0, 900, 1800]
earth = "wgs84"
"""


def cylinder(role: str, lat: float = 46.0, lon: float = 10.0, radius: str = "400", more: str = "") -> str:
    place = f"lat_deg = {lat}\nlon_deg = {lon}\nradius_m = {radius}\n"
    return f'\n[[cylinder]]\nname = "{role}"\n{place}role = "{role}"\n{more}'


def task_text(*cylinders: str, head: str = HEAD) -> str:
    return head + "".join(cylinders)


START, TURN, GOAL = cylinder("start", radius="3000"), cylinder("turnpoint", lon=10.1), cylinder("goal", lon=10.2)


def parse(text: str):
    return parse_toml_task(text.encode(), "race.toml")


def test_reads_a_race():
    task = parse(task_text(cylinder("launch", lat=45.99), START, TURN, cylinder("speed_end", lon=10.2), GOAL))
    assert [one.role for one in task.cylinders] == ["launch", "start", "turnpoint", "speed_end", "goal"]
    assert (task.kind, task.start, task.speed_end) == ("race", 1, 3)
    assert task.gates_s == (1781436600.0, 1781437500.0, 1781438400.0)
    assert task.deadline_s == 1781449200.0  # 17:00 at +02:00 is 15:00 UTC


def test_without_times_it_is_elapsed():
    task = parse(task_text(START, GOAL, head='kind = "elapsed"\n'))
    assert (task.name, task.gates_s, task.deadline_s, task.speed_end) == ("race", (), None, 1)


def test_a_start_is_left_where_the_next_lies_outside_and_entered_where_it_lies_within():
    leave = parse(task_text(START, TURN, GOAL)).cylinders
    assert [one.direction for one in leave] == ["exit", "enter", "enter"]
    around = parse(task_text(cylinder("start", lon=10.1, radius="9000"), TURN, GOAL)).cylinders
    assert [one.direction for one in around] == ["enter", "enter", "enter"]


def test_a_turnpoint_round_the_one_before_is_left():
    ring = cylinder("turnpoint", radius="6000").replace('name = "turnpoint"', 'name = "ring"')
    task = parse(task_text(START, ring, GOAL))
    assert [one.direction for one in task.cylinders] == ["exit", "exit", "enter"]


def test_a_direction_that_is_given_stays():
    task = parse(task_text(cylinder("start", radius="3000", more='direction = "enter"\n'), TURN, GOAL))
    assert task.cylinders[0].direction == "enter"


MISTAKES = [
    (task_text(START, TURN), "race.toml:8: no goal"),
    (task_text(TURN, GOAL), "race.toml:8: no start"),
    (task_text(START, START, GOAL), r'race.toml:20: cylinder 2: role = "start" stands in cylinder 1 already'),
    (task_text(START, GOAL, GOAL), r'race.toml:27: cylinder 3: role = "goal" stands in cylinder 2 already'),
    (task_text(START, GOAL, TURN), "race.toml:27: cylinder 3: a cylinder stands after the goal"),
    (task_text(TURN, START, GOAL), "race.toml:13: cylinder 1: a turnpoint stands before the start"),
    (task_text(START, cylinder("launch"), GOAL), "the launch does not come first"),
    (
        task_text(START, cylinder("turnpoint", radius="0"), GOAL),
        "race.toml:19: cylinder 2: radius_m 0 lies outside",
    ),
    (task_text(START, cylinder("turnpoint", radius="-400"), GOAL), "race.toml:19: cylinder 2: radius_m -400 lies"),
    (task_text(START, cylinder("turnpoint", radius="nan"), GOAL), "race.toml:19: cylinder 2: radius_m nan lies"),
    (task_text(START, cylinder("turnpoint", radius="inf"), GOAL), "race.toml:19: cylinder 2: radius_m inf lies"),
    (task_text(START, cylinder("turnpoint", radius="true"), GOAL), "radius_m is missing or no number"),
    (task_text(START, cylinder("turnpoint", radius='"wide"'), GOAL), "radius_m is missing or no number"),
    (
        task_text(cylinder("start", lat=91.0), GOAL),
        "race.toml:10: cylinder 1: lat_deg 91.0 lies outside -90 to 90",
    ),
    (task_text(START, cylinder("goal", lat=-46.0)), "it lies .* km from the cylinder before it"),
    (task_text(START, cylinder("gaol")), "race.toml:20: cylinder 2: role 'gaol' is not known"),
    (
        task_text(START, cylinder("goal", more="colour = 3\n")),
        "race.toml:21: cylinder 2: 'colour' is no key of a task",
    ),
    (task_text(START, cylinder("goal", more='direction = "up"\n')), "direction 'up' is not known"),
    (
        task_text(START, cylinder("turnpoint", more="line = true\n"), GOAL),
        "race.toml:21: cylinder 2: a line as turn",
    ),
    (task_text(START, cylinder("goal", more="line = true\n")), "a goal line without a leg to it"),
    (HEAD, "race.toml:1: no cylinders"),
    (
        task_text(START, GOAL, head=HEAD.replace("2026-06-14T17", "2026-06-14T13")),
        "race.toml:4: the deadline lies be",
    ),
    (
        task_text(START, GOAL, head=HEAD.replace("1800]", "86400]")),
        "race.toml:5: start gate 86400 s lies after the d",
    ),
    (task_text(START, GOAL, head=HEAD.replace("900, 1800", "900, 900")), "race.toml:5: start_gates_s do not rise"),
    (task_text(START, GOAL, head=HEAD.replace("900, 1800", "-900")), "race.toml:5: start gate -900 lies outside"),
    (
        task_text(START, GOAL, head=HEAD.replace("900, 1800", "nan")),
        "start_gates_s holds 'nan', which is no number",
    ),
    (task_text(START, GOAL, head=HEAD.replace('"race"', '"elapsed"')), "start gates in an elapsed-time task"),
    (task_text(START, GOAL, head='kind = "race"\n'), "race.toml:1: a race without start_opens"),
    (
        task_text(START, GOAL, head=HEAD.replace(":30:00Z", ":30:00")),
        "race.toml:3: start_opens has no offset from UTC",
    ),
    (
        task_text(START, GOAL, head=HEAD.replace("2026-06-14T11:30:00Z", "11:30:00")),
        "start_opens is no date with a t",
    ),
    (task_text(START, GOAL, head=HEAD.replace("2026-06-14T11", "1826-06-14T11")), "start_opens in the year 1826"),
    (task_text(START, GOAL, head=HEAD.replace("wgs84", "sphere")), "race.toml:6: earth 'sphere' is not known"),
    (task_text(START, GOAL, head=HEAD + "wind = 3\n"), "race.toml:7: 'wind' is no key of a task"),
    (task_text(START, GOAL, head="kind = race\n"), "race.toml:1: no TOML"),
    (task_text(START, *[TURN] * 60, GOAL), "62 cylinders, more than 50"),
    (
        task_text(START, cylinder("goal").replace('"goal"\nlat', '"' + "x" * 200 + '"\nlat')),
        "a name of 200 characters",
    ),
]


@pytest.mark.parametrize(("text", "said"), MISTAKES)
def test_a_mistake_gets_one_line(text, said):
    with pytest.raises(TaskFileError, match=said) as caught:
        parse(text)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith("race.toml:")


HOSTILE = {
    "huge": b"x = 1\n" * 100_000,
    "a long line": b"name = '" + b"x" * 20_000 + b"'",
    "deep arrays": b"a = " + b"[" * 4000 + b"]" * 4000,
    "deep tables": b"a = " + b"{b=" * 2000 + b"1" + b"}" * 2000,
    "dotted keys": (b".".join([b"a"] * 4500) + b" = 1\n") * 10,
    "long integer": b"radius_m = " + b"9" * 9000,
    "no text": bytes(range(256)),
    "terminal escapes": b'kind = "\\u001b[2J\\u001b]0;x\\u0007"\n',
    "empty": b"",
    "wrong types": b"name = [1]\nkind = {a = 1}\ncylinder = [[1], 2]\n",
    "cylinder of text": b'cylinder = ["a", "b"]\n',
}


@pytest.mark.parametrize("data", HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_files_get_one_line_at_once(data):
    began = time.process_time()
    with pytest.raises(TaskFileError) as caught:
        parse_toml_task(data, "evil.toml")
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 400
    assert time.process_time() - began < 5.0


def test_any_bytes_give_a_task_or_one_line():
    good = task_text(START, TURN, GOAL).encode()
    rng, said = random.Random(7), []
    for _ in range(400):
        data = bytearray(good)
        for _ in range(rng.randint(1, 8)):
            at = rng.randrange(len(data))
            data[at : at + rng.randint(0, 4)] = bytes(rng.randrange(256) for _ in range(rng.randint(0, 4)))
        try:
            parse_toml_task(bytes(data), "evil.toml")
        except TaskFileError as error:
            said.append(str(error))
    assert all(text.isprintable() for text in said)
    assert len(said) > 100


def test_names_lose_what_could_steer_a_terminal():
    text = task_text(START, GOAL).replace("Ridge run", "\\u001b[2JRidge\\nrun")
    assert parse(text).name == "[2JRidge run"
