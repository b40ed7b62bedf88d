"""Addresses of the pages."""

from consult.screens import board, case, crew, sign_in

urlpatterns = [
    *board.urlpatterns,
    *case.urlpatterns,
    *sign_in.urlpatterns,
    *crew.urlpatterns,
]
