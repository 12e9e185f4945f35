"""Words that are being written stay, whatever happens to the study meanwhile, and are said when the place is left."""

from __future__ import annotations

from typing import Any

from tests.desk_browser.conftest import open_study, state_of

FIELD = "section[aria-label=Summary] textarea >> nth=1"


def test_typed_words_stay_while_others_speak_and_are_said_on_leaving(page: Any, study: str) -> None:
    open_study(page, study)
    page.keyboard.press("F8")
    page.click(FIELD)
    page.keyboard.type("Call me at ")
    page.evaluate(
        """async study => fetch(`/api/studies/${study}/entries`, {
          method: "POST",
          headers: { "content-type": "application/json" },
          body: JSON.stringify({ id: crypto.randomUUID(), author: "A. Else", action: "flag urgency", clip: "",
            payload: { is_urgent: true, said_by: "practice", reason: "breathes fast" } }),
        })""",
        study,
    )
    page.wait_for_selector(".urgency .mentor:has-text('breathes fast')")
    page.keyboard.type("any hour.")

    assert page.input_value(FIELD) == "Call me at any hour."
    assert state_of(page, study)["texts"] == []
    page.keyboard.press("F8")  # from within the field
    page.wait_for_selector("main.study")

    said = [(each["document"], each["part"], each["text"]) for each in state_of(page, study)["texts"]]
    assert said == [("summary", "closing", "Call me at any hour.")]
    page.keyboard.press("F8")
    assert page.input_value(FIELD) == "Call me at any hour."


def test_words_wait_for_the_name_of_who_says_them(page: Any, study: str) -> None:
    page.evaluate("localStorage.removeItem('fanlight.mentor')")
    page.reload()
    open_study(page, study)
    page.keyboard.press("F8")
    field = "section[aria-label=Letter] textarea >> nth=0"
    page.fill(field, "Dear Ada,")
    page.press(field, "Tab")
    page.fill(".panel.name input", "A. Mentor")
    page.press(".panel.name input", "Enter")
    page.wait_for_selector(".panel.name", state="detached")

    said = [each["text"] for each in state_of(page, study)["texts"] if each["document"] == "letter"]
    assert said == ["Dear Ada,"]


def test_forms_keep_what_is_typed_while_another_place_is_shown(page: Any, study: str) -> None:
    """A message, a call, an urgency, a finding and a call that is to be written down; said, the fields are empty."""
    open_study(page, study)
    page.keyboard.press("F8")
    page.fill(".calls > form input", "fluid in the chest")
    page.press(".calls > form input", "Enter")
    typed = {
        ".thread textarea": "The long axis once more.",
        ".calls > form input": "a mass",
        ".call.open input >> nth=0": "Dr Hale",
        ".call.open input >> nth=2": "come today",
        ".urgency input": "faints",
        ".own-findings form input": "thin",
    }
    page.wait_for_selector(".call.open")
    for field, words in typed.items():
        page.fill(field, words)
    for place in ("main.study", "main.letters"):
        page.keyboard.press("F8")
        page.wait_for_selector(place)
    page.wait_for_selector(".call.open")

    assert {field: page.input_value(field) for field in typed} == typed
    page.press(".call.open input >> nth=0", "Enter")
    page.press(".thread textarea", "Tab")
    page.keyboard.press("Enter")
    page.wait_for_selector(".thread li p.mentor:has-text('once more')")
    page.wait_for_selector(".call.open p.mentor:has-text('Dr Hale')")
    assert page.input_value(".thread textarea") == ""
    assert page.input_value(".call.open input >> nth=0") == ""


def test_panels_keep_what_is_typed_when_they_are_left(page: Any, study: str) -> None:
    """A reason while a name is asked for, words for a clip, the trainee's own reading."""
    page.evaluate("localStorage.removeItem('fanlight.mentor')")
    page.reload()
    open_study(page, study)
    for key in (".", "-"):
        page.keyboard.press(key)
    page.keyboard.type("the clip is long enough")
    page.keyboard.press("Enter")
    page.wait_for_selector(".panel.name input:focus")
    page.keyboard.type("M. Linden")
    page.keyboard.press("Enter")
    page.wait_for_selector(".panel.name", state="detached")
    page.keyboard.press("-")
    page.wait_for_selector(".overrule input.mentor")
    assert page.input_value(".overrule input.mentor") == "the clip is long enough"
    page.keyboard.press("Escape")

    page.keyboard.press("/")
    page.keyboard.type("thin wall")
    page.keyboard.press("Escape")
    page.keyboard.press("/")
    page.wait_for_selector(".writing input")
    assert page.input_value(".writing input") == "thin wall"
    page.keyboard.press("Enter")
    page.wait_for_selector(".added li.mentor:has-text('thin wall')")
    page.keyboard.press("/")
    page.wait_for_selector(".writing input")
    assert page.input_value(".writing input") == ""
    page.keyboard.press("Escape")

    page.click(".top button:has-text('request sheet')")
    page.fill(".panel.sheet textarea >> nth=0", "The left atrium looks large.")
    for place in ("main.letters", "main.study"):
        page.keyboard.press("F8")
        page.wait_for_selector(place)
    page.click(".top button:has-text('request sheet')")
    assert page.input_value(".panel.sheet textarea >> nth=0") == "The left atrium looks large."
