"""The pipe of a run at the sizes that are fused on it: its own, and the small ends of reducers."""

from estimator.joint.fusion import fusion_options, fusion_parameters
from estimator.joint.geometry import pipe_geometry
from estimator.models.job import Run
from estimator.models.job_inputs import FusionInputs
from estimator.models.joint import FusionParameters, PipeGeometry
from estimator.models.sized_run import SizedRun


def sizes_of(run: Run) -> tuple[str, ...]:
    """Return the sizes fused on a run, its own first."""
    return (run.size, run.reduce_to) if run.reduce_to and run.small_ends else (run.size,)


def pipe_at(
    asked: FusionInputs, run: Run, sized: SizedRun, size: str
) -> tuple[PipeGeometry, FusionParameters]:
    """Return the measures and the fusion of a run's joints at one of its sizes.

    Parameters
    ----------
    asked : FusionInputs
        The job's method and own fusion figures.
    run, sized : Run, SizedRun
        The run, and what was worked out for it; its joints are made in its air.
    size : str
        The run's own size, or the smaller one of its reducers, of the same ratio.
    """
    geometry = sized.geometry
    if size != run.size:
        geometry = pipe_geometry(run.od_system, size, run.dr, run.material)
    pipe = geometry.od_mm, geometry.wall_mm, sized.timing.ambient_c
    return geometry, fusion_parameters(asked.method, *pipe, fusion_options(asked))
