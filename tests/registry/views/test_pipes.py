import pytest
from django.urls import reverse

from registry.models import PipeRun
from tests.factories import make_pipe_run

TYPED = {
    "role": "branch_line",
    "material": "black_steel",
    "nominal_size": '1 1/4"',
    "schedule": "40",
    "wall_mm": "",
    "length_m": "2858 ft",
    "joint": "threaded",
    "installed": "",
}


def new_url(system):
    return reverse("registry:pipe-new", args=[system.pk])


@pytest.fixture
def bare(system):
    """The system of the tests without its run."""
    system.pipe_runs.update(is_withdrawn=True)
    return system


def test_runs_of_a_system_are_entered_one_after_another(client, bare, owner):
    client.force_login(owner)
    assert client.post(new_url(bare), TYPED | {"another": "1"}).url == new_url(bare)
    assert client.post(new_url(bare), TYPED | {"length_m": "9 ft"}).url == bare.get_absolute_url()
    assert bare.pipe_runs.current().count() == 2


def test_a_run_typed_as_people_type_is_read_and_echoed(client, bare, owner):
    client.force_login(owner)
    response = client.post(new_url(bare), TYPED, follow=True)
    run = bare.pipe_runs.current().get()
    assert run.nominal_size == "1-1/4"
    assert run.length_m == pytest.approx(2858 * 0.3048)
    # ASME B36.10M: NPS 1-1/4 is 42.2 mm outside; Schedule 40 has a wall of 3.56 mm.
    assert (run.outside_diameter_mm, run.wall_mm) == (42.2, 3.56)
    assert (run.wall_basis, run.installed_on) == ("table", bare.installed_on)
    page = response.content.decode()
    assert "Branch line 1-1/4 (DN32), 2,858 ft: wall 0.1402 in from the pipe table" in page


def test_a_given_wall_counts_instead_of_the_schedule(client, bare, owner):
    client.force_login(owner)
    client.post(new_url(bare), TYPED | {"nominal_size": "DN200", "wall_mm": "4.78 mm"})
    run = bare.pipe_runs.current().get()
    assert (run.nominal_size, run.wall_mm, run.wall_basis) == ("8", 4.78, "given")


@pytest.mark.parametrize(
    ("changed", "field", "problem"),
    [
        ({"schedule": ""}, "schedule", "Give the schedule"),
        ({"nominal_size": "7"}, "nominal_size", "no pipe is made in this size"),
        ({"schedule": "80"}, "nominal_size", "not listed in schedule"),
        ({"length_m": "long"}, "length_m", "“long”"),
        ({"length_m": "0 m"}, "length_m", "above zero"),
        ({"wall_mm": "30 mm"}, "wall_mm", "below half of the outside diameter"),
        ({"installed": "5/6/2001"}, "installed", "could be two different days"),
    ],
)
def test_a_run_that_cannot_be_is_refused_at_its_field_and_kept(
    client, bare, owner, changed, field, problem
):
    client.force_login(owner)
    response = client.post(new_url(bare), TYPED | changed)
    assert problem in response.context["form"].errors[field][0]
    assert "2858 ft" in response.content.decode() or field == "length_m"
    assert not bare.pipe_runs.current().exists()


def test_plastic_pipe_in_a_gas_filled_system_is_refused_with_the_reason(client, bare, owner):
    bare.kind = "dry"
    bare.save()
    client.force_login(owner)
    data = TYPED | {"material": "cpvc", "schedule": "SDR 13.5", "nominal_size": "1"}
    response = client.post(new_url(bare), data)
    assert "compressed gas can shatter it" in response.context["form"].errors["material"][0]


def test_a_correction_supersedes_the_run_and_its_record(client, system, owner):
    original = system.pipe_runs.get()
    client.force_login(owner)
    url = reverse("registry:pipe-correct", args=[original.pk])
    form = client.get(url).context["form"]
    shown = {name: form[name].value() or "" for name in form.fields}
    assert shown["installed"] == ("2005-03-01")
    response = client.post(url, shown | {"length_m": "120 m"})
    assert response.url == system.get_absolute_url()
    run = system.pipe_runs.current().get()
    assert (run.supersedes, run.length_m) == (original, 120.0)
    assert run.record.supersedes == original.record


def test_a_correction_that_leaves_the_length_alone_keeps_its_digits(client, system, owner):
    original = make_pipe_run(system, owner, length_m=123.456789012345, role="riser")
    client.force_login(owner)
    url = reverse("registry:pipe-correct", args=[original.pk])
    form = client.get(url).context["form"]
    shown = {name: form[name].value() or "" for name in form.fields}
    client.post(url, shown | {"joint": "welded"})
    assert PipeRun.objects.get(supersedes=original).length_m == 123.456789012345


def test_correcting_a_corrected_run_is_refused_and_kept(client, system, owner):
    original = system.pipe_runs.get()
    make_pipe_run(system, owner, supersedes=original, length_m=90.0)
    client.force_login(owner)
    response = client.post(reverse("registry:pipe-correct", args=[original.pk]), TYPED)
    page = response.content.decode()
    assert response.status_code == 200
    assert "Olive Manager already" in page
    assert "2858 ft" in page
    assert system.pipe_runs.count() == 2


@pytest.mark.parametrize(
    ("person", "status"), [("technician", 403), ("viewer", 403), ("stranger", 404)]
)
def test_only_a_manager_corrects_a_run(client, world, system, person, status):
    client.force_login(getattr(world, person))
    url = reverse("registry:pipe-correct", args=[system.pipe_runs.get().pk])
    assert client.post(url, TYPED).status_code == status
    assert system.pipe_runs.count() == 1
