"""Every address of the API, under /api/v1/."""

from django.urls import path, re_path

from api.views import alerts, batch, cases, history, interventions, journal, notes, orders, rules, schema, vitals

urlpatterns = [
    path("cases/", cases.Cases.as_view()),
    path("cases/<uuid:id>/", cases.CaseView.as_view()),
    path("cases/<uuid:id>/accept/", cases.AcceptCase.as_view()),
    path("cases/<uuid:id>/handover/", cases.HandOverCase.as_view()),
    path("cases/<uuid:id>/close/", cases.CloseCase.as_view()),
    path("cases/<uuid:id>/reopen/", cases.ReopenCase.as_view()),
    path("cases/<uuid:id>/goal/", cases.SetGoal.as_view()),
    path("cases/<uuid:id>/notes/", notes.Notes.as_view()),
    path("cases/<uuid:id>/procedures/", notes.Procedures.as_view()),
    path("cases/<uuid:id>/corrections/", notes.Corrections.as_view()),
    path("cases/<uuid:id>/reviews/", notes.Reviews.as_view()),
    path("cases/<uuid:id>/vitals/", vitals.Vitals.as_view()),
    path("cases/<uuid:id>/guidance/", interventions.Guidance.as_view()),
    path("cases/<uuid:id>/checks/", interventions.Checks.as_view()),
    path("cases/<uuid:id>/interventions/", interventions.Interventions.as_view()),
    path("cases/<uuid:id>/orders/", orders.Orders.as_view()),
    path("cases/<uuid:id>/journal/", journal.Journal.as_view()),
    path("cases/<uuid:id>/at/<int:seq>/", journal.CardAt.as_view()),
    path("interventions/<uuid:id>/", interventions.InterventionView.as_view()),
    path("interventions/<uuid:id>/changes/", interventions.Changes.as_view()),
    path("orders/<uuid:id>/", orders.OrderView.as_view()),
    path("orders/<uuid:id>/decision/", orders.DecideOrder.as_view()),
    path("orders/<uuid:id>/withdraw/", orders.WithdrawOrder.as_view()),
    path("orders/<uuid:id>/readback/", orders.ReadBackOrder.as_view()),
    path("orders/<uuid:id>/not_given/", orders.NotGivenOrder.as_view()),
    path("batch/", batch.BatchView.as_view()),
    path("alerts/", alerts.Alerts.as_view()),
    path("alerts/<uuid:id>/acknowledge/", alerts.AcknowledgeAlert.as_view()),
    path("history/", history.History.as_view()),
    path("journal/verify/", journal.Verify.as_view()),
    path("rule-set/", rules.RuleSetView.as_view()),
    path("schema/", schema.Schema.as_view(), name="api-schema"),
    path("docs/", schema.Docs.as_view(), name="api-docs"),
    re_path(r"", schema.Nowhere.as_view()),
]
