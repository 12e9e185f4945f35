"""A remark of several rows stands once below the table."""

from fanlight.report.shared_notes import share_notes

ROWS = (("marked by hand", "frame 3"), ("marked by hand", "frame 9"), ("found by the network",))


def test_what_two_rows_share_stands_below_and_the_rest_in_its_row() -> None:
    notes = share_notes(ROWS)

    assert notes.lines() == ("a: marked by hand",)
    assert notes.own(ROWS[1]) == ("frame 9",)
    assert notes.letters(ROWS[1]) == ("a",)
    assert notes.letters(ROWS[2]) == ()


def test_a_remark_twice_in_one_row_is_not_shared() -> None:
    assert share_notes([("so", "so")]).lines() == ()


def test_after_z_come_two_letters() -> None:
    row = tuple(str(number) for number in range(28))

    assert [line.split(":")[0] for line in share_notes([row, row]).lines()][25:] == ["z", "aa", "ab"]
