"""Every setting of the model is a field of the form, with its sentence and where its value came from."""

from __future__ import annotations

from steadyrest.page.settings_form import chapters, fields_of, kind_of, set_text
from steadyrest.profile import leaves, resolve
from steadyrest.profile_tools import set_values, table_of


def test_each_setting_of_a_profile_is_a_field_with_its_sentence_and_origin() -> None:
    held = resolve("rs274ngc")
    found = {each.key: each for each in fields_of(chapters(held, None, {}, {}))}
    # leans is a table that no rotary alone in the table has
    settings = {key for key, value in leaves(table_of(held.profile)).items() if key not in ("name", "rotary.A.leans") and value != {}}
    assert set() == settings - found.keys()
    assert all(found[key].about and found[key].origin for key in settings)
    assert "controller.toml" in found["rotary.A.chuck_faces"].origin


def test_the_chain_comes_first_among_the_rotaries_of_the_machine() -> None:
    for name in ("rs274ngc", "two-in-table"):
        machine = chapters(resolve(name), None, {}, {})[0]
        assert "rotary" == machine.tables[0][0]
        assert ["chain"] == [one.key for one in machine.tables[0][1][0].fields]
        assert machine.tables[0][1][1].name.startswith("rotary.")


def test_a_field_that_is_not_touched_says_what_holds() -> None:
    held = resolve("limited-clamped")
    for field in fields_of(chapters(held, None, {}, {})):
        if field.held and field.kind != "text":
            (value,) = set_values([set_text(field, field.held)]).values()
            now = leaves(table_of(held.profile))[field.key]
            assert value == now or list(value) == list(now), field.key


def test_kinds_of_fields_follow_the_schema() -> None:
    assert ("choice", ("true", "false")) == kind_of({"type": "boolean"})
    assert ("choice", ("a", "b")) == kind_of({"enum": ["a", "b"]})
    assert ("number", ()) == kind_of({"anyOf": [{"type": "number"}, {"type": "null"}]})
    assert ("list", ()) == kind_of({"type": "array", "items": {"type": "string"}})
    assert ("numbers", ()) == kind_of({"type": "array", "prefixItems": [{"type": "number"}]})


def test_a_number_has_a_point_or_a_comma_and_what_may_be_a_thousand_stays_a_text() -> None:
    field = next(one for one in fields_of(chapters(resolve("rs274ngc"), None, {}, {})) if one.key == "rotary.A.fastest")
    assert ["rotary.A.fastest=12.5", 'rotary.A.fastest="12,000"', "rotary.A.fastest=12000"] == [
        set_text(field, said) for said in ("12,5", "12,000", "12000")
    ]
