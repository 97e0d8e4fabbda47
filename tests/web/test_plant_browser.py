"""The plant edited in a real browser, by keyboard alone, while the file changes underneath."""

import axe
import pytest
import shots

from conftest import serving

pytestmark = pytest.mark.part("chromium")
WIDE, PHONE = (1366, 900), (390, 844)


@pytest.fixture(scope="module")
def browser():
    with shots.shared() as opened:
        yield opened


@pytest.fixture
def hall(small):
    """The address of a small hall that may be written to, and its file."""
    with serving(small.app, lifespan="off") as at:
        yield at, small.app.state.desk.hall().file


def reach(page, name, most=80):
    """Press Tab until a box or button of that name has the focus: nobody touches a mouse."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name || document.activeElement.textContent.trim()") == name:
            return
    raise AssertionError(f"{name} cannot be reached by Tab")


def over(page, name, text):
    """Write over what a box holds."""
    reach(page, name)
    page.keyboard.press("Control+a")
    page.keyboard.type(text)


def heading(page):
    return page.locator("h1").inner_text()


def test_by_keyboard_alone_a_tank_is_changed_while_a_text_editor_saves_underneath(browser, hall):
    at, file = hall
    place = shots.context(browser, *WIDE, "light")
    page = place.new_page()
    page.goto(f"{at}/plant/edit/tank/pipefish")
    over(page, "w.volume", "0.8 m3")
    page.keyboard.press("Enter")
    page.wait_for_selector("ins")
    assert "volume is now 0.8 m3" in page.locator("main").inner_text()
    faults = axe.look(page, "wide, a difference")
    assert not faults, "\n".join(map(str, faults))
    # somebody saves the file in a text editor: another value, and a note
    file.write_text(file.read_text("utf-8").replace('"0.5 m"', '"0.4 m"  # sunk'), "utf-8")
    over(page, "reason", "measured at the clean-out")
    page.keyboard.press("Enter")
    page.wait_for_selector("[role=status]")
    assert "changed by somebody else" in page.locator("[role=status]").inner_text()
    assert '"0.9 m3"' in file.read_text("utf-8")
    over(page, "reason", "measured at the clean-out")
    page.keyboard.press("Enter")
    page.wait_for_url("**/plant/edit?table=tank&done=*")
    text = file.read_text("utf-8")
    assert 'volume = "0.8 m3"' in text
    assert 'depth = "0.4 m"  # sunk' in text
    place.close()


def test_the_same_value_saved_underneath_is_shown_and_asked_about_and_a_half_file_is_told(browser, hall):
    at, file = hall
    place = shots.context(browser, *PHONE, "light")
    page = place.new_page()
    page.goto(f"{at}/plant/edit/tank/pipefish")
    file.write_text(file.read_text("utf-8").replace('"0.9 m3"', '"0.85 m3"'), "utf-8")
    over(page, "w.volume", "0.8 m3")
    page.keyboard.press("Enter")
    page.wait_for_selector("[aria-invalid=true]")
    assert heading(page) == "Somebody else changed the same value meanwhile"
    assert "0.85 m3" in page.locator("main").inner_text()
    faults = axe.look(page, "phone, a clash")
    assert not faults, "\n".join(map(str, faults))
    assert page.locator("[name='w.volume']").input_value() == "0.8 m3"
    whole = file.read_text("utf-8")
    file.write_text(whole.replace('"0.85 m3"', '"0.8'), "utf-8")  # halfway through a save
    reach(page, "w.volume")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=plant/file-broken")
    assert page.locator("[name='w.volume']").input_value() == "0.8 m3"
    assert '"0.8\n' in file.read_text("utf-8")
    file.write_text(whole, "utf-8")
    reach(page, "w.volume")
    page.keyboard.press("Enter")
    page.wait_for_selector("ins")
    assert "is now 0.8 m3, and was 0.85 m3" in page.locator("main").inner_text()
    place.close()
