"""What the commonest tasks take: ``bench_tasks.py ADDRESS FOLDER [--only NUMBER]``.

Walks all of them on a phone and at a desk of a running demo, FOLDER being its data folder, and
writes the table into DEVELOPERS.md. Start the demo afresh first: machines go out on the way.
"""

import argparse
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests"))

BEGIN, END = "<!-- tasks -->", "<!-- end of tasks -->"


def main() -> None:
    from browser.seen import Depot
    from browser.tasks import TASKS, Walked, table, walked

    told = argparse.ArgumentParser(description=__doc__)
    told.add_argument("address")
    told.add_argument("folder", type=Path)
    told.add_argument("--chromium", default="/usr/bin/chromium")
    told.add_argument("--only", default="", help="the number of one task, to be printed alone")
    given = told.parse_args()
    depot = Depot(address=given.address, folder=given.folder, found={})
    rows = []
    with sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=given.chromium, args=["--no-sandbox", "--disable-gpu"]
        )
        for task in TASKS:
            if given.only in ("", task.number):
                phone, desk = (walked(browser, depot, task, phone=each) for each in (True, False))
                rows.append(Walked(task, phone, desk))
                print(table(rows).splitlines()[-1], flush=True)
    if not given.only:
        file = ROOT / "DEVELOPERS.md"
        text = file.read_text(encoding="utf-8")
        before, _, rest = text.partition(BEGIN)
        after = rest.partition(END)[2]
        file.write_text(f"{before}{BEGIN}\n{table(rows)}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
