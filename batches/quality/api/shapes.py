"""What the doors of checks take and give."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from batches.quality.rules.plan_tables import AQLS, LEVELS
from batches.quality.selectors.kinds import HOW_MANY, KINDS
from shopfloor.codes.alphabet import OWN_CODE_LENGTH_MAX
from shopfloor.doors import WhenWhySerializer
from shopfloor.doors.last_days import last_days
from shopfloor.fields import AtField, CodeField, NumberField, PiecesField

ROWS_MAX = 2000


class ChangeDefinitionSerializer(serializers.Serializer[Any]):
    """What may be changed of a definition."""

    name = serializers.CharField(max_length=120, required=False)
    stage = CodeField(required=False)
    item = CodeField(required=False, allow_null=True)
    defect = CodeField(required=False, allow_null=True, help_text="Code of a scrap reason.")
    kind = serializers.ChoiceField(choices=KINDS, required=False)
    unit = serializers.CharField(max_length=12, required=False, allow_blank=True)
    lower = NumberField(required=False, allow_null=True, allow_negative=True)
    upper = NumberField(required=False, allow_null=True, allow_negative=True)
    how_many = serializers.ChoiceField(choices=HOW_MANY, required=False)
    level = serializers.ChoiceField(choices=LEVELS, required=False)
    aql = serializers.ChoiceField(choices=AQLS, required=False)
    may_reduce = serializers.BooleanField(required=False)
    fixed_pieces = PiecesField(min_value=1, max_value=100_000, required=False, allow_null=True)
    accept_pieces = PiecesField(max_value=100_000, required=False)
    is_active = serializers.BooleanField(required=False)


class NewDefinitionSerializer(ChangeDefinitionSerializer):
    """A new definition."""

    code = CodeField(max_length=OWN_CODE_LENGTH_MAX)
    name = serializers.CharField(max_length=120)
    stage = CodeField()
    kind = serializers.ChoiceField(choices=KINDS)
    how_many = serializers.ChoiceField(choices=HOW_MANY)


class DefinitionOut(serializers.Serializer[Any]):
    """A definition."""

    code = serializers.CharField()
    name = serializers.CharField()
    stage = serializers.CharField(source="stage.code")
    item = serializers.CharField(source="item.code", default=None, allow_null=True)
    defect = serializers.CharField(source="defect.code", default=None, allow_null=True)
    kind = serializers.CharField()
    unit = serializers.CharField()
    lower = NumberField(allow_null=True)
    upper = NumberField(allow_null=True)
    how_many = serializers.CharField()
    level = serializers.CharField()
    aql = serializers.CharField()
    may_reduce = serializers.BooleanField()
    fixed_pieces = serializers.IntegerField(allow_null=True)
    accept_pieces = serializers.IntegerField()
    is_active = serializers.BooleanField()


class ResultSerializer(serializers.Serializer[Any]):
    """Pieces tested and failed, or the value of one; where it is known, of which station."""

    equipment = CodeField(required=False, default="")
    tested = PiecesField(max_value=1_000_000, required=False, allow_null=True, default=None)
    failed = PiecesField(max_value=1_000_000, required=False, allow_null=True, default=None)
    value = NumberField(required=False, allow_null=True, default=None, allow_negative=True)

    def validate_value(self, value: Any) -> Any:
        """As many digits as are kept."""
        if value is not None and (abs(value) >= 10**9 or round(value, 5) != value):
            raise serializers.ValidationError("At most 9 digits before the point and 5 after it.")
        return value


class CheckSerializer(WhenWhySerializer):
    """What was tested and found, of a lot or of a batch."""

    definition = CodeField()
    lot = CodeField(required=False, default="")
    batch = CodeField(required=False, default="")
    results = serializers.ListField(child=ResultSerializer(), min_length=1, max_length=ROWS_MAX)
    replaces = CodeField(required=False, default="", help_text="A check written down wrongly.")


class ResultOut(serializers.Serializer[Any]):
    """What was found of one piece, or of several alike."""

    equipment = serializers.CharField(allow_null=True)
    tested = serializers.IntegerField()
    failed = serializers.IntegerField(help_text="Pieces, or flaws.")
    value = serializers.CharField(allow_null=True)


class CheckOut(serializers.Serializer[Any]):
    """A check, the plan it was judged by, and the holds it placed."""

    code = serializers.CharField()
    definition = serializers.CharField()
    kind = serializers.CharField()
    lot = serializers.CharField(allow_null=True, help_text="As it was made, before any split.")
    batch = serializers.CharField()
    entry = serializers.CharField(allow_null=True)
    at = AtField()
    recorded_at = AtField()
    by = serializers.CharField()
    reason = serializers.CharField()
    lot_pieces = serializers.IntegerField(help_text="Good pieces made; of a mixture base units.")
    tested = serializers.IntegerField()
    failed = serializers.IntegerField()
    is_passed = serializers.BooleanField()
    plan_pieces = serializers.IntegerField()
    accept = serializers.IntegerField()
    reject = serializers.IntegerField()
    letter = serializers.CharField()
    severity = serializers.CharField()
    replaces = serializers.CharField(allow_null=True)
    replaced_by = serializers.CharField(allow_null=True)
    holds = serializers.ListField(child=serializers.CharField())
    results = ResultOut(many=True)


class PlanAskSerializer(serializers.Serializer[Any]):
    """Which check, of which lot or of all that which batch made."""

    definition = CodeField()
    lot = CodeField(required=False, default="")
    batch = CodeField(required=False, default="")

    def validate(self, attrs: Any) -> Any:
        """One of the two."""
        if bool(attrs["lot"]) == bool(attrs["batch"]):
            raise serializers.ValidationError({"lot": "Name a lot or a batch, one of the two."})
        return attrs


class CurvePointOut(serializers.Serializer[Any]):
    """Lots of a process that fails so often pass so often."""

    accepted_ratio = serializers.FloatField()
    failing_ratio = serializers.FloatField(help_text="Failing pieces, or flaws, a piece.")


class LotPointOut(serializers.Serializer[Any]):
    """This lot, with so many failing pieces in it, passes so often."""

    failing_pieces = serializers.IntegerField()
    accepted_ratio = serializers.FloatField()


class PlanOut(serializers.Serializer[Any]):
    """How many to test now, and what passes."""

    definition = serializers.CharField()
    lot = serializers.CharField(allow_null=True, help_text="None: all that the batch made.")
    batch = serializers.CharField()
    lot_pieces = serializers.IntegerField()
    test_pieces = serializers.IntegerField()
    accept = serializers.IntegerField(help_text="Most that may fail.")
    reject = serializers.IntegerField(help_text="From so many on the lot fails.")
    letter = serializers.CharField()
    severity = serializers.CharField()
    is_all = serializers.BooleanField()
    is_stopped = serializers.BooleanField(
        help_text="Ten lots in a row stayed on tightened: find the cause before sampling on."
    )
    curve = CurvePointOut(many=True)
    of_this_lot = LotPointOut(many=True)
    stations = serializers.ListField(
        child=serializers.CharField(),
        help_text="Cavities or stations that its pieces came from, where its entry says them.",
    )


class ChartAskSerializer(last_days(90)):  # type: ignore[misc]  # made by a function
    """Which check, and when."""

    definition = CodeField()


class PointOut(serializers.Serializer[Any]):
    """A point and its limits."""

    check = serializers.CharField()
    at = AtField()
    value = serializers.FloatField(allow_null=True)
    lower = serializers.FloatField(allow_null=True)
    upper = serializers.FloatField(allow_null=True)


class FiredOut(serializers.Serializer[Any]):
    """A rule that fired."""

    rule = serializers.CharField()
    words = serializers.CharField()
    first = serializers.CharField(help_text="The check it looked at first.")
    last = serializers.CharField(help_text="The check at which it fired.")


class ChartOut(serializers.Serializer[Any]):
    """A chart."""

    kind = serializers.CharField()
    center = serializers.FloatField()
    times_wider = serializers.FloatField(
        allow_null=True, help_text="Of p_prime and u_prime: than the limits of p or u."
    )
    points = PointOut(many=True)
    fired = FiredOut(many=True)


class IndexOut(serializers.Serializer[Any]):
    """A capability index and its 95 % interval."""

    name = serializers.CharField(help_text="cp, cpk, pp or ppk.")
    value = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()


class CapabilityOut(serializers.Serializer[Any]):
    """What the process can hold."""

    values = serializers.IntegerField()
    mean = serializers.FloatField()
    sigma_within = serializers.FloatField()
    sigma_overall = serializers.FloatField()
    indices = IndexOut(many=True)


class ChartsOut(serializers.Serializer[Any]):
    """What the checks of a time say."""

    definition = serializers.CharField()
    kind = serializers.CharField()
    unit = serializers.CharField()
    first_on = serializers.DateField()
    last_on = serializers.DateField()
    checks = serializers.IntegerField()
    charts = ChartOut(many=True)
    capability = CapabilityOut(allow_null=True)
