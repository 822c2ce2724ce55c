import aiming

scenario = aiming.load("scenarios/quarry.toml")
answer = aiming.solve(scenario)

main = answer.speakers[0]
print(f"{main.tilt_deg:.1f}° at {main.height_m:.2f} m, spread {main.spread_db:.1f} dB")
print("softest row:", answer.rows.name[answer.rows.design_level_db.argmin()])
for caution in answer.cautions:
    if caution.severity == "stop":
        print(caution.text)

# The same box a metre higher, for comparison.
higher = aiming.load(
    "scenarios/quarry.toml", changes={"speaker.main.placement.height": main.height_m + 1.0}
)
for case in aiming.compare({"found": scenario, "higher": higher}):
    print(case.name, None if case.answer is None else case.answer.speakers[0].spread_db)

# How the spread changes with the tilt, at the height found.
fixed = aiming.load("scenarios/quarry.toml", changes={"speaker.main.placement.height": 6.0})
table = aiming.what_if(fixed, over={"speaker.main.placement.tilt": (-20.0, 0.0, 0.5)})
print(table["spread_db"].min())

figure = answer.plot()
print(sorted(path.name for path in answer.write("quarry-answer")))
