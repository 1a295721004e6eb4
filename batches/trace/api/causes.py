"""The door of the question what failures have in common."""

from __future__ import annotations

from typing import Any, ClassVar, Final

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.trace import selectors
from inventory.stock.selectors.lots import as_json
from shopfloor.days import shop_day
from shopfloor.doors import ANYONE, Door
from shopfloor.doors.last_days import last_days
from shopfloor.fields import CodeField

COMPLAINTS_LENGTH_MAX: Final = 2000


class ComplaintsField(serializers.CharField):
    """`CODE,CODE`."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(allow_blank=True, max_length=COMPLAINTS_LENGTH_MAX, **kwargs)

    def run_validation(self, data: Any = serializers.empty) -> Any:
        """The codes."""
        text = super().run_validation(data)
        return [CodeField().run_validation(part) for part in text.split(",") if part.strip()]


class CausesSerializer(last_days(365)):  # type: ignore[misc]  # made by a function
    """Which defect, and when."""

    defect = CodeField(help_text="Code of a scrap reason.")
    stage = CodeField(
        required=False, help_text="Code of a stage, where pieces are scrapped for it at several."
    )
    source = serializers.ChoiceField(
        selectors.SOURCES,
        required=False,
        help_text="Only what was scrapped at the bench, what checks tested, or what customers "
        "complained of; else all of it.",
    )
    complaints = ComplaintsField(
        required=False,
        help_text="Codes of complaints that are asked about, by commas. Of each cause it is told "
        "how many of them may be of it; with source=complaints no others count.",
    )


class ExposureOut(serializers.Serializer[Any]):
    """What some of the pieces went through, beside those that did not. Shares are 0 to 1."""

    kind = serializers.CharField(help_text="lot, supplier, person, station, cavity, age ...")
    name = serializers.CharField()
    together = serializers.ListField(
        child=serializers.CharField(), help_text="Others that always went with it."
    )
    tested_with = serializers.IntegerField()
    failed_with = serializers.IntegerField()
    tested_without = serializers.IntegerField()
    failed_without = serializers.IntegerField()
    rate_with = serializers.FloatField(allow_null=True)
    rate_without = serializers.FloatField(allow_null=True)
    ratio = serializers.FloatField(allow_null=True, help_text="How many times as often they fail.")
    ratio_low = serializers.FloatField(allow_null=True, help_text="95 % interval.")
    ratio_high = serializers.FloatField(allow_null=True, help_text="95 % interval.")
    p = serializers.FloatField(
        help_text="Chance of as many failures with it, were it no cause. One-sided, exact; pieces "
        "of an entry count for less where entries are unlike each other."
    )
    false_share = serializers.FloatField(
        help_text="The same with regard to how many exposures were looked at: the share of false "
        "finds among those that stand out as far (Benjamini and Hochberg)."
    )
    left = serializers.FloatField(
        allow_null=True, help_text="The ratio among pieces alike in the other causes."
    )


class CauseOut(serializers.Serializer[Any]):
    """A cause, or one of several that the results cannot tell apart."""

    words = serializers.CharField()
    chance = serializers.FloatField(
        help_text="Of anything standing out as far, were nothing at fault."
    )
    is_too_few = serializers.BooleanField(
        help_text="More than a dozen others explain the failures as well: nothing to act on."
    )
    complaints_with = serializers.IntegerField(
        allow_null=True,
        help_text="How many of the complaints asked about may be of it; null where none was asked "
        "about or customers cannot tell.",
    )
    exposure = ExposureOut()
    cannot_tell_from = ExposureOut(many=True)
    tests = serializers.ListField(
        child=serializers.CharField(), help_text="What would tell them apart."
    )


class KindOut(serializers.Serializer[Any]):
    """A kind of test. How often it finds a failure is its own: kinds are not compared."""

    source = serializers.ChoiceField(selectors.SOURCES)  # type: ignore[assignment]  # a field's name
    definition = serializers.CharField(help_text="Of the check; else empty.")
    tested = serializers.IntegerField(
        help_text="At the bench: good, or scrapped for this reason. By customers: what left, less "
        "of it the less time they had to complain."
    )
    failed = serializers.IntegerField(help_text="Pieces; a complaint counts as one.")


class CountedOut(serializers.Serializer[Any]):
    """A complaint that was looked at. It counts as one failure, of however many pieces it is."""

    complaint = serializers.CharField()
    pieces = serializers.IntegerField()
    left_out = serializers.CharField(help_text="Why it, or part of it, does not count; else empty.")


class CausesOut(serializers.Serializer[Any]):
    """What the failures of a time have in common."""

    defect = serializers.CharField()
    defect_name = serializers.CharField()
    stage = serializers.CharField()
    first_on = serializers.DateField()
    last_on = serializers.DateField()
    words = serializers.CharField(help_text="The answer in plain words.")
    entries = serializers.IntegerField()
    tested = serializers.IntegerField(
        help_text="By all kinds of test; a piece once for each of them."
    )
    failed = serializers.IntegerField(help_text="Pieces, each once.")
    inflation = serializers.FloatField(
        help_text="How many times as much entries differ as single pieces would."
    )
    looked_at = serializers.IntegerField(help_text="Exposures compared.")
    tests = KindOut(many=True, help_text="The kinds of test; one that found nothing is left out.")
    untold = serializers.IntegerField(
        help_text="Pieces that checks tested, or customers complained of, of nobody knows which "
        "entries; left out."
    )
    complaints = CountedOut(many=True, help_text="Of this defect and time.")
    is_spread = serializers.BooleanField(
        help_text="Only failures were told by station in some entries; their good pieces were "
        "taken to be spread evenly over the stations."
    )
    causes = CauseOut(many=True)
    nearest = ExposureOut(
        many=True, help_text="Where there is no cause: what comes nearest to one, some five."
    )
    exposures = ExposureOut(many=True, help_text="The least likely to be chance first, some 100.")


class CausesDoor(Door):
    """What pieces with a defect have in common: a lot, a station, a person, an age.

    Found by what was scrapped at the bench, by checks and by complaints.

    A comparison, not a proof: it says what the records hold, how sure that is, which exposures
    they cannot tell apart, and what test would.
    """

    roles: ClassVar = {"GET": ANYONE}
    asks = CausesSerializer
    gives: ClassVar = {"GET": CausesOut}

    def get(self, request: Request) -> Response:
        """Compare."""
        return Response(as_json(selectors.causes(**self.asked(), on=shop_day(timezone.now()))))
