"""Addresses of the pages."""

from consult.screens import board, case, crew, labels, review, rules, rules_adopt, sign_in

urlpatterns = [
    *board.urlpatterns,
    *case.urlpatterns,
    *labels.urlpatterns,
    *sign_in.urlpatterns,
    *crew.urlpatterns,
    *review.urlpatterns,
    *rules.urlpatterns,
    *rules_adopt.urlpatterns,
]
