from django.urls import path

from scheduling.views import day, months, orders, planning, rules, weeks

urlpatterns = [
    path("work/several/", orders.work_several, name="work-several"),
    path("tasks/<int:pk>/hand-over/", orders.task_hand_over, name="task-hand-over"),
    path("tasks/<int:pk>/comments/", orders.task_comment, name="task-comment"),
    path("tasks/<int:pk>/<slug:step>/", orders.task_step, name="task-step"),
    path("day/", day.day, name="day"),
    path("day/pages/", day.day_pages, name="day-pages"),
    path("week/", weeks.week, name="week"),
    path("week/plans/<int:pk>/accept/", weeks.week_accept, name="week-accept"),
    path("week/plans/<int:pk>/drop/", weeks.week_drop, name="week-drop"),
    path("week/plans/<int:pk>/let-in/<int:task_pk>/", weeks.week_swap, name="week-swap"),
    path("week/of/<int:pk>/plan/", weeks.week_plan, name="week-plan"),
    path("week/moves/<int:pk>/", weeks.week_move, name="week-move"),
    path("month/", months.month, name="month"),
    path("crews/", orders.crews, name="crews"),
    path("crews/new/<int:pk>/", orders.crew_new, name="crew-new"),
    path("crews/<int:pk>/", orders.crew_edit, name="crew-edit"),
    path("planning/", planning.planning, name="planning"),
    path("planning/<int:pk>/ways/", planning.policy_edit, name="planning-policy"),
    path("planning/<int:pk>/file/", planning.planning_import, name="planning-import"),
    path("planning/<int:pk>/work/<slug:kind>/", planning.work_time_edit, name="work-time"),
    path("planning/<int:pk>/depots/new/", planning.depot_new, name="depot-new"),
    path("planning/depots/<int:pk>/", planning.depot_edit, name="depot-edit"),
    path("planning/sites/<int:pk>/", planning.place_edit, name="place-edit"),
    path(
        "planning/sites/<int:pk>/buildings/<int:building_pk>/",
        planning.place_edit,
        name="place-building",
    ),
    path("rules/", rules.rules, name="rules"),
    path("rules/<int:pk>/", rules.rules_owner, name="rules-owner"),
    path("rules/<int:pk>/acceptance/", rules.rules_acceptance, name="rules-acceptance"),
    path("rules/<int:pk>/levels/", rules.rule_levels, name="rule-levels"),
    path("rules/<int:pk>/<slug:rule>/", rules.rule_edit, name="rule-edit"),
]
