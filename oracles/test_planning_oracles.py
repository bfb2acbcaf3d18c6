"""ortools, first shown to find the published best of a benchmark before any plan of ours is compared with it.

Fisher and Thompson's 6 x 6 job shop (FT06, 1963): shortest makespan 55, proved, in every benchmark list.
"""

from __future__ import annotations

FT06 = """
(2,1)(0,3)(1,6)(3,7)(5,3)(4,6)
(1,8)(2,5)(4,10)(5,10)(0,10)(3,4)
(2,5)(3,4)(5,8)(0,9)(1,1)(4,7)
(1,5)(0,5)(2,5)(3,3)(4,8)(5,9)
(2,9)(1,3)(4,5)(5,4)(0,3)(3,1)
(1,3)(3,3)(5,9)(0,10)(4,4)(2,1)
"""


def jobs() -> list[list[tuple[int, int]]]:
    """Steps of each job as (machine, time)."""
    lines = FT06.strip().splitlines()
    return [
        [(int(machine), int(time)) for machine, time in (step.split(",") for step in line[1:-1].split(")("))]
        for line in lines
    ]


def test_ortools_finds_the_published_makespan_of_ft06() -> None:
    """55, proved to be the best."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    horizon = sum(time for job in jobs() for _, time in job)
    on_machine: dict[int, list[cp_model.IntervalVar]] = {}
    makespan = model.new_int_var(0, horizon, "makespan")
    for number, job in enumerate(jobs()):
        ready: cp_model.LinearExprT = 0
        for step, (machine, time) in enumerate(job):
            start = model.new_int_var(0, horizon, f"start {number} {step}")
            on_machine.setdefault(machine, []).append(
                model.new_fixed_size_interval_var(start, time, f"step {number} {step}")
            )
            model.add(start >= ready)
            ready = start + time
        model.add(makespan >= ready)
    for intervals in on_machine.values():
        model.add_no_overlap(intervals)
    model.minimize(makespan)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = 60.0
    assert solver.solve(model) == cp_model.OPTIMAL
    assert solver.objective_value == 55.0
