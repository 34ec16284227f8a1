"""The browser and the accessibility check that the other tests of this folder use are real ones."""

from collections.abc import Callable

from playwright.sync_api import Page

SOUND = "<html lang=en><title>t</title><main><h1>Shelf</h1><img alt='a spider' src='data:,'></main></html>"


def test_chromium_runs_script_at_phone_width(open_page: Page) -> None:
    """Chromium lays a page out at 390 px and runs its script."""
    open_page.set_content("<p id=a>one</p><script>a.textContent = `${innerWidth} px`</script>")
    assert "390 px" == open_page.text_content("#a")


def test_axe_finds_what_it_should(open_page: Page, serious_faults: Callable[[Page], list[str]]) -> None:
    """A picture without a text alternative is a serious fault, and with one it is none."""
    open_page.set_content(SOUND)
    assert [] == serious_faults(open_page)
    open_page.set_content(SOUND.replace(" alt='a spider'", ""))
    assert ["image-alt"] == [fault.partition(":")[0] for fault in serious_faults(open_page)]
