"""Addresses of the pages."""

from consult.screens import board, case, crew, review, rules, sign_in

urlpatterns = [
    *board.urlpatterns,
    *case.urlpatterns,
    *sign_in.urlpatterns,
    *crew.urlpatterns,
    *review.urlpatterns,
    *rules.urlpatterns,
]
