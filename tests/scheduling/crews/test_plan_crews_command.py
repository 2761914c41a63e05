"""`manage.py plan_crews` from file to file."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from tests.scheduling.crews.made_instances import made_instance, order_of, tiny_instance
from tests.scheduling.crews.replay import replay


def run(folder, data, name="instance.json"):
    (folder / name).write_text(data if isinstance(data, str) else json.dumps(data))
    said, progress = StringIO(), StringIO()
    out = folder / "plan.json"
    call_command(
        "plan_crews", instance=str(folder / name), json=str(out), stdout=said, stderr=progress
    )
    return out.read_text(), said.getvalue(), progress.getvalue()


def test_a_plan_goes_to_its_file_the_same_each_time(tmp_path):
    data = made_instance(10, 2, 2, 1)
    text, said, progress = run(tmp_path, data)
    value = replay(data, json.loads(text))
    assert f"worth {value:,}" in said and "No plan is worth more." in said
    assert "gap 0.00 %" in progress
    assert run(tmp_path, data)[0] == text


def test_a_wrong_field_is_told_with_the_file(tmp_path):
    data = tiny_instance([order_of(minutes=-1)])
    with pytest.raises(
        CommandError, match=r"instance.json: orders\[0\].minutes: must be 1 or more"
    ):
        run(tmp_path, data)


def test_a_file_that_is_not_there_or_no_json_is_told(tmp_path):
    with pytest.raises(CommandError, match="not JSON"):
        run(tmp_path, "{")
    with pytest.raises(CommandError, match="No such file"):
        call_command("plan_crews", instance=str(tmp_path / "none"), json=str(tmp_path / "out"))


def test_a_plan_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "instance.json").write_text(json.dumps(tiny_instance([order_of()])))
    with pytest.raises(CommandError, match="--json"):
        call_command(
            "plan_crews",
            instance=str(tmp_path / "instance.json"),
            json=str(tmp_path / "no" / "plan.json"),
            stdout=StringIO(),
            stderr=StringIO(),
        )


@pytest.mark.parametrize(
    "crews, words",
    [([], "There is no crew"), (None, "No crew works on any of these days")],
)
def test_nobody_to_plan_for_is_said(tmp_path, crews, words):
    data = tiny_instance([order_of()], crew={"absent": [0]})
    if crews is not None:
        data["crews"] = crews
    assert words in run(tmp_path, data)[1]
