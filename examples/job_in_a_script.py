"""Build a job without a file, and watch it: one blank touched on top, with a plate laid flat."""

from gingerly import Placement, Plate, Position, Stock, Surface, Tool, TopSpot, batch
from gingerly.driver.events import FaceFound
from gingerly.job import Job, MachineChoice, Part

pin = Tool.pin("1/8 in", free_length="20 mm")
plate = Plate(name="kitchen plate", size_a=50, size_b=47, height=14, recess_a=38, recess_b=37, recess_depth=6)
blank = Stock(size_x=120, size_y=100, thickness=20, jaw_height=5)
spot = TopSpot(tool=pin, stock=blank, place=Position(60, 50, -45), plate=plate, placement=Placement.FLAT)
job = Job(
    machine=MachineChoice(adapter="mock", name="attic mill", options={"seed": 1}),
    parts=(Part(name="blank", routine=Surface(spot=spot, offset=2)),),
)


def watch(event: object) -> None:
    if isinstance(event, FaceFound):
        print(f"{event.face.touch}: {len(event.face.contacts)} contacts, spread {event.face.spread * 1000:.1f} µm")


summary = batch.run_blocking(job, observer=watch)
(axis, height), *_ = summary.parts[0].found
print(f"the top face lies at {axis.name} {height:.3f}; lead and plate are off: {summary.released}")
