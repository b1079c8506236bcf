"""Where in a film is there anything to see? No book is needed: only the film.

run: python docs/examples/a_film_at_a_glance.py FILM [BOXES.json] [PICTURE.png]

The survey gives the stretches in which anything moves and the cuts; with a boxes file the motion pass adds its flags.
Above the line of time stand stills from the middle of each of the longest stretches.
"""

import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt

import clipmark

STILLS = 4


def main(path: str, boxes: str = "", picture: str = "a_film_at_a_glance.png") -> None:
    with clipmark.open_film(path) as film:
        found = clipmark.survey(film)
        flags = clipmark.scan(film, boxes)["flags"] if boxes else []
        lasts = float(film.seconds[-1])
        moving = found["moving"]
        share = sum(s["end_s"] - s["start_s"] for s in moving) / lasts
        print(f"{len(film)} frames in {lasts:.1f} s; something moves for {share:.0%}, in {len(moving)} stretches")
        print(f"{len(found['cuts_s'])} cuts, {len(flags)} flags")

        longest = sorted(moving, key=lambda s: s["start_s"] - s["end_s"])[:STILLS]
        middles = sorted((s["start_s"] + s["end_s"]) / 2 for s in longest)
        fig = plt.figure(figsize=(9, 3.4), layout="constrained")
        grid = fig.add_gridspec(2, max(len(middles), 1), height_ratios=(3, 1))
        for column, at in enumerate(middles):
            ax = fig.add_subplot(grid[0, column])
            ax.imshow(film.rgb(film.frame_at(at), width=320))
            ax.set(xticks=[], yticks=[], title=f"{at:.1f} s")
    line = fig.add_subplot(grid[1, :])
    for s in moving:
        line.axvspan(s["start_s"], s["end_s"], color="#56B4E9")
    for at in found["cuts_s"]:
        line.axvline(at, color="black", linewidth=1)
    for flag in flags:
        line.plot(flag["time_s"], 0.5, "v", color="#D55E00")
    line.set(xlim=(0, lasts), ylim=(0, 1), yticks=[], xlabel="seconds; blue: something moves, black: a cut")
    fig.savefig(picture, dpi=120)
    print(f"picture: {picture}")


if __name__ == "__main__":
    main(*sys.argv[1:4])
