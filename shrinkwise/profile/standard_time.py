"""Minutes of a job from a stopwatch: what was observed, at which pace, with how much allowance."""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

Minutes = Annotated[float, Field(ge=0, le=1440, allow_inf_nan=False)]


class Observed(BaseModel):
    """What was timed of one job.

    Attributes
    ----------
    observed : tuple of float
        Minutes that the job took, each time that it was timed [min].
    rating : float
        Pace of who was timed, 1 being the usual one: above 1 was faster.
    allowance : float
        Breaks, needs and delays, as a share.
    of : "day" or "job"
        What it is a share of: of the whole day, or of the time at the job.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    observed: Annotated[tuple[Minutes, ...], Field(min_length=1, max_length=1000)]
    rating: Annotated[float, Field(gt=0, le=3)] = 1.0
    allowance: Annotated[float, Field(ge=0, lt=1)] = 0.0
    of: Literal["day", "job"] = "day"

    @property
    def standard_minutes(self) -> float:
        """Mean x rating / (1 - allowance) where the allowance is a share of the day, mean x
        rating x (1 + allowance) where it is one of the job [min].

        The formulas of work measurement (common practice; worked problems stand in
        `tests/published/test_standard_time.py`).
        """
        usual = sum(self.observed) / len(self.observed) * self.rating
        return usual / (1 - self.allowance) if self.of == "day" else usual * (1 + self.allowance)


def _timed(value: Any) -> Any:
    if not isinstance(value, dict):
        return value
    try:
        return Observed.model_validate(value).standard_minutes
    except ValidationError as error:
        fault = error.errors()[0]
        found = {"missing": "is missing", "extra_forbidden": "is no part of it"}
        wrong = found.get(fault["type"], f"was {fault['input']!r}")
        setting = ", ".join(str(key) for key in fault["loc"])
        raise ValueError(
            "must be minutes, or a table such as { observed = [7.5, 8.2], rating = 0.9, "
            'allowance = 0.1, of = "day" }, but '
            f"{setting} {wrong}"
        ) from error


StandardMinutes = Annotated[Minutes, BeforeValidator(_timed)]
"""Minutes, or a table of what was timed."""
