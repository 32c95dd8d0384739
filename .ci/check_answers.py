"""Check what the installed program said about the example: `check_answers.py RANK.json NEXT.json`."""

import json
import sys
from pathlib import Path


def main(rank_path: str, next_path: str) -> None:
    """Fail unless there is a ranking of many causes, most probable first, and a priced next step."""
    ranking, plan = (json.loads(Path(path).read_text(encoding="utf-8")) for path in (rank_path, next_path))
    p = [cause["probability"] for cause in ranking["causes"]]
    if ranking["unit"] != "long8" or len(p) < 100 or p != sorted(p, reverse=True) or p[0] < 0.05:
        raise SystemExit(f"The ranking is not what it should be: {ranking['unit']}, {len(p)} causes, {p[:3]}")
    step = plan["steps"][0]
    if not step["label"] or step["cost"]["total"] < 0 or not step["why"]:
        raise SystemExit(f"The next step is not what it should be: {step}")
    print(f"{ranking['causes'][0]['label']}: {p[0]:.0%}.")
    print(f"Next: {step['label']}, {step['cost']['total']:.0f} {plan['currency']}.")


if __name__ == "__main__":
    main(*sys.argv[1:])
