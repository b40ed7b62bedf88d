"""Addresses of the pages."""

from consult.screens import (
    away,
    board,
    case,
    crew,
    demonstration,
    labels,
    printed,
    review,
    rules,
    rules_adopt,
    rules_change,
    rules_comparison,
    shift,
    sign_in,
    sign_in_link,
)

urlpatterns = [
    *board.urlpatterns,
    *case.urlpatterns,
    *shift.urlpatterns,
    *away.urlpatterns,
    *labels.urlpatterns,
    *printed.urlpatterns,
    *sign_in.urlpatterns,
    *sign_in_link.urlpatterns,
    *demonstration.urlpatterns,
    *crew.urlpatterns,
    *review.urlpatterns,
    *rules.urlpatterns,
    *rules_adopt.urlpatterns,
    *rules_change.urlpatterns,
    *rules_comparison.urlpatterns,
]
