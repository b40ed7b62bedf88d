"""Addresses of the pages."""

from consult.screens import board, case, crew, demonstration, labels, review, rules, rules_adopt, sign_in, sign_in_link

urlpatterns = [
    *board.urlpatterns,
    *case.urlpatterns,
    *labels.urlpatterns,
    *sign_in.urlpatterns,
    *sign_in_link.urlpatterns,
    *demonstration.urlpatterns,
    *crew.urlpatterns,
    *review.urlpatterns,
    *rules.urlpatterns,
    *rules_adopt.urlpatterns,
]
