"""The template tags of the look and the project's own field templates."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from django import forms
from django.template.loader import render_to_string
from django.test import RequestFactory
from django.urls import resolve

from classroom.templatetags.look import class_links, problems


class SizeForm(forms.Form):
    across = forms.CharField(
        label="Across?",
        help_text="From <edge> to edge.",
        error_messages={"required": "Type a number."},
        widget=forms.TextInput(attrs={"unit": "in", "unit_name": "inches", "inputmode": "decimal"}),
    )
    note = forms.CharField(label="Note", required=False)
    entry = forms.UUIDField(widget=forms.HiddenInput)

    def clean(self) -> None:
        self.add_error(None, "Both are the same.")


SizeFormSet = forms.formset_factory(SizeForm, extra=2)


def test_problems_come_in_the_order_of_the_page_with_the_whole_forms_own():
    form = SizeForm({"entry": "no"})
    found = problems(form)
    assert [(problem.target, problem.label, problem.message) for problem in found] == [
        ("id_across", "Across", "Type a number."),
        ("", "", "Enter a valid UUID."),
        ("", "", "Both are the same."),
    ]


def test_problems_of_several_forms_and_of_formsets_are_one_list():
    one, two = SizeForm({}, prefix="a"), SizeForm({}, prefix="b")
    assert [p.target for p in problems([one, two]) if p.target] == ["id_a-across", "id_b-across"]
    data = {"form-TOTAL_FORMS": "1", "form-INITIAL_FORMS": "0", "form-0-note": "x"}
    assert "id_form-0-across" in [p.target for p in problems(SizeFormSet(data))]


@pytest.mark.parametrize("nothing", ["", None, [], SizeForm(), SizeFormSet()])
def test_where_nothing_was_sent_there_are_no_problems_and_no_summary(nothing):
    assert problems(nothing) == []
    assert render_to_string("_error_summary.html", {"form": nothing}).strip() == ""


def test_the_summary_counts_what_is_to_be_put_right():
    one = render_to_string("_error_summary.html", {"form": SizeForm({"across": "1", "entry": "0" * 32})})
    assert "One thing to put right" in one
    assert "3 things to put right" in render_to_string("_error_summary.html", {"form": SizeForm({})})


def test_a_field_shows_its_unit_once_and_says_it_once():
    html = SizeForm()["across"].as_field_group()
    assert '<span class="sr-only">(inches)</span>' in html
    assert '<span class="unit" aria-hidden="true">in</span>' in html
    assert 'unit="' not in html
    assert 'unit_name="' not in html
    assert 'inputmode="decimal"' in html


def test_a_hint_is_escaped_and_described():
    html = SizeForm()["across"].as_field_group()
    assert "From &lt;edge&gt; to edge." in html
    assert 'aria-describedby="id_across_helptext"' in html


def test_only_a_field_that_may_stay_empty_says_so():
    form = SizeForm()
    assert "(may stay empty)" in form["note"].as_field_group()
    assert "(may stay empty)" not in form["across"].as_field_group()
    form.fields["note"].widget.attrs["quiet_optional"] = True
    assert "(may stay empty)" not in form["note"].as_field_group()


def test_an_error_stands_beside_its_field_and_is_tied_to_it():
    html = SizeForm({})["across"].as_field_group()
    assert 'aria-invalid="true"' in html
    assert 'aria-describedby="id_across_helptext id_across_error"' in html
    assert '<ul class="errors errorlist" id="id_across_error"><li>Type a number.</li></ul>' in html
    assert "field-error" in html


def test_a_hidden_field_is_nothing_but_itself():
    html = SizeForm()["entry"].as_field_group()
    assert html.strip().startswith("<input")
    assert "label" not in html


def links_on(path):
    request = RequestFactory().get(path)
    request.resolver_match = resolve(path)
    return class_links({"request": request}, "TIDE-48")


def test_exactly_the_page_one_is_on_is_current():
    links = links_on("/classes/TIDE-48/students/")
    assert [link.label for link in links if link.current] == ["Students"]
    assert len({link.url for link in links}) == len(links) > 3


def test_a_classs_own_page_is_current_on_itself_only():
    assert [link.label for link in links_on("/classes/TIDE-48/") if link.current] == ["Class"]


@pytest.mark.parametrize("page", ["measuring/", "numbers/", "teams/7/work/", "teams/7/work/1/clear/"])
def test_a_page_that_the_dashboard_leads_to_stands_under_it(page):
    assert [link.label for link in links_on(f"/classes/TIDE-48/{page}") if link.current] == ["Dashboard"]


def test_on_a_page_elsewhere_no_link_is_current():
    assert not any(link.current for link in links_on("/"))


def test_the_trail_names_each_steps_state_in_words():
    from design_challenges.steps import Step

    trail = [
        SimpleNamespace(step=step, done=place < 2, current=place == 2, open=place < 4, reachable=place < 3)
        for place, step in enumerate(Step)
    ]
    html = render_to_string("_trail.html", {"trail": trail, "round": SimpleNamespace(number=1)})
    assert html.count("<a href=") == 2
    assert html.count('aria-current="step"') == 1
    assert html.count(", done") == 2
    assert html.count(", you are here") == 1
    assert html.count(", not open yet") == 3
    assert "Step 3 of 6: <strong>Build</strong>" in html
