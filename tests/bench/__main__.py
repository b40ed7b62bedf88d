"""Runs the benchmark: each round measures the limit, the board, the tutorial way and a bare program, in turn."""

from __future__ import annotations

import argparse
from statistics import fmean, median

from tests.bench import places
from tests.bench.clients import BATCH, post_for
from tests.bench.delays import post_to_card
from tests.bench.limit import transactions_per_second
from tests.bench.ours import Ours, board, prepare
from tests.bench.theirs import bare, tutorial

UNITS = 16
RATE = 40.0
BOARDS = (1, 100)
Row = dict[str, float]


def percentile(values: list[float], share: float) -> float:
    """The value below which this share of them lies, in ms."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))] * 1000


def entries_per_second(ours: Ours, clients: int, seconds: int) -> float:
    """Of batches, by how long each took: the last ones end after the measurement."""
    return BATCH * clients / fmean(post_for(ours.batches[:clients], seconds))


def cards(ours: Ours, boards: int, seconds: int) -> Row:
    """From a post to its card on so many boards."""
    delays = post_to_card(ours, boards, RATE, seconds)
    return {
        f"card on {boards}: p50 ms": percentile(delays, 0.5),
        f"card on {boards}: p99 ms": percentile(delays, 0.99),
    }


def one_round(made: dict[str, object], urls: dict[str, str], clients: int, seconds: int) -> Row:
    """One measurement of everything."""
    row: Row = {"pgbench /s": transactions_per_second(urls["limit"], clients, seconds)}
    with board(urls["board"], made) as ours:
        post_for(ours.targets[:clients], 1)
        delays = post_for(ours.targets[:clients], seconds)
        row |= {
            "posts /s": len(delays) / seconds,
            "p50 ms": percentile(delays, 0.5),
            "p99 ms": percentile(delays, 0.99),
        }
        row["one client p50 ms"] = percentile(post_for(ours.targets[:1], seconds), 0.5)
        row["batch entries /s"] = entries_per_second(ours, clients, seconds)
        row["one client batch entries /s"] = entries_per_second(ours, 1, seconds)
        for boards in BOARDS:
            row |= cards(ours, boards, seconds)
    with tutorial(urls["tutorial"], clients) as targets:
        post_for(targets, 1)
        row["tutorial /s"] = len(post_for(targets, seconds)) / seconds
    with bare(urls["tutorial"], clients) as least:
        post_for(least.targets, 1)
        row["bare /s"] = len(post_for(least.targets, seconds)) / seconds
        row |= {f"bare {name}": value for name, value in cards(least, BOARDS[-1], seconds).items()}
    return row | {
        "ours / pgbench": row["posts /s"] / row["pgbench /s"],
        "ours / tutorial": row["posts /s"] / row["tutorial /s"],
    }


def main() -> None:
    """Print each round and the medians of all."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--rounds", type=int, default=5)
    options.add_argument("--seconds", type=int, default=5, help="how long each measurement takes")
    options.add_argument("--clients", type=int, default=UNITS)
    chosen = options.parse_args()
    with places.fresh_database("consult_bench") as url:
        made = prepare(url, UNITS)
        rows = []
        for number in range(chosen.rounds):
            with (
                places.fresh_database("consult_bench_tutorial") as theirs,
                places.fresh_database("consult_bench_limit", copy_of="consult_bench") as limit,
            ):
                urls = {"board": url, "limit": limit, "tutorial": theirs}
                rows.append(one_round(made, urls, chosen.clients, chosen.seconds))
            print(
                f"round {number + 1}: " + ", ".join(f"{name} {value:.3g}" for name, value in rows[-1].items()),
                flush=True,
            )
    print(f"\nmedians of {len(rows)} rounds, {chosen.clients} clients, {RATE:.0f} posts/s for the cards")
    for name in rows[0]:
        print(f"{name:<32}{median(row[name] for row in rows):>10.3g}")


if __name__ == "__main__":
    main()
