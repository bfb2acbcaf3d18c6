"""A shop says in its own file what the columns of its telemetry are called."""

from __future__ import annotations

from pathlib import Path

import pytest

from fanwright.desk.duty import read_duty


def test_columns_are_named_in_the_shop_file(tmp_path: Path) -> None:
    table, shop = tmp_path / "day.csv", tmp_path / "own.toml"
    rows = [f"{at},{100 if 100 <= at < 220 else 0},1200" for at in range(600)]
    table.write_text("\n".join(["clock,CMD [%],RPMX [rpm]", *rows]) + "\n", "utf-8")
    shop.write_text(
        '[telemetry]\ntime = "clock[s]"\ntold_on = "CMD[%]"\nengine_speed = "RPMX[rpm]"\n', "utf-8"
    )
    found = read_duty([table], shop_file=shop).result
    assert len(found.runs) == 1
    assert found.fan_on_s == pytest.approx(120.0, abs=1.0)
