"""Job handlers: compute outside any transaction, store in a short one that re-checks the claim."""

from curves.models import Roll
from curves.queries.inputs import digest_of, engine_readings, has_steps, roll_inputs
from curves.queries.spread_inputs import spread_inputs
from curves.queries.standing import log_exposure_sd_of, standing_analyses
from curves.sensitometry import Analysis as EngineAnalysis
from curves.sensitometry import (
    analyse_readings,
    estimate_lab_spread,
    pool_analyses,
    with_exposure_error,
)
from curves.services.fitting import clear_roll_analysis, store_roll_analysis
from curves.services.pooling import Standing, clear_stock_result, store_pooled_analysis
from curves.services.sheets import request_sheet
from curves.services.spreads import request_spread, store_spread_estimate
from labsite.common.errors import NotFound
from labsite.jobs.registry import JobRun, job_handler


@job_handler("fit_roll", time_limit_s=60)
def fit_roll(run: JobRun) -> dict:
    """Fit the curve of a roll's standing readings."""
    roll_id = run.subject["roll_id"]
    roll = Roll.objects.select_related("exposure_revision", "batch__stock").filter(pk=roll_id).first()
    if roll is None:
        raise NotFound("The roll is gone.")
    inputs = roll_inputs(roll)
    if not has_steps(inputs):
        with run.storing():
            clear_roll_analysis(roll_id=roll_id)
        return {"fitted": False}
    run.progress(20, "Fitting the curve")
    result = with_exposure_error(
        analyse_readings(engine_readings(inputs), box_speed=inputs["box_speed"]), inputs["log_exposure_sd"]
    )
    run.progress(90, "Storing the result")
    with run.storing():
        analysis = store_roll_analysis(roll_id=roll_id, input_digest=digest_of(inputs), result=result)
    return {"fitted": True, "analysis": analysis.pk}


@job_handler("pool_stock", time_limit_s=120)
def pool_stock(run: JobRun) -> dict:
    """Pool the accepted rolls of a stock under one process and one exposure revision."""
    standing = Standing(**run.subject)
    analyses = standing_analyses(standing)
    if not analyses:
        with run.storing():
            clear_stock_result(standing=standing)
            request_spread(**standing.pair)
        return {"rolls": 0}
    run.progress(20, "Pooling the rolls")
    result = pool_analyses([EngineAnalysis.from_dict(analysis.as_dict()) for analysis in analyses])
    if result.roll_count > 1:  # a single roll comes back as it was fitted, the exposure's error included
        result = with_exposure_error(result, log_exposure_sd_of(standing.exposure_revision_id))
    run.progress(90, "Storing the result")
    with run.storing():
        pooled = store_pooled_analysis(standing=standing, analyses=analyses, result=result)
        # The sheet comes last, since its verdicts rest on the spread.
        request_spread(**standing.pair)
        request_sheet(**run.subject)
    return {"rolls": len(analyses), "pooled": pooled.pk}


@job_handler("estimate_spread", time_limit_s=600)
def estimate_spread(run: JobRun) -> dict:
    """Estimate how much rolls of one stock differ under two standards, and where that comes from."""
    run.progress(10, "Reading every curve of the accepted rolls off")
    inputs = spread_inputs(**run.subject)
    run.progress(60, "Taking the spread apart")
    spread = estimate_lab_spread(inputs.rows)
    with run.storing():
        store_spread_estimate(**run.subject, inputs=inputs, spread=spread)
    return spread.to_dict()
