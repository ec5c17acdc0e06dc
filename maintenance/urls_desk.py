"""Addresses of the workshop's desk: faults, jobs, stores, inspections, tags, readings."""

from __future__ import annotations

from django.urls import path

from maintenance.views import cards_desk, defects, deferrals, inspections, measures, stores, tags, workshop

urlpatterns = [
    path("defects/", defects.defects, name="defects"),
    path("defects/<int:pk>/", defects.defect, name="defect"),
    path("defects/<int:pk>/assess/", defects.assess, name="assess"),
    path("defects/<int:pk>/set-aside/", defects.set_aside, name="set_aside"),
    path("defects/<int:pk>/note/", defects.note, name="defect_note"),
    path("defects/<int:pk>/join/", defects.join, name="defect_join"),
    path("defects/<int:pk>/reopen/", defects.reopen, name="defect_reopen"),
    path("defects/<int:pk>/put-off/", deferrals.put_off, name="put_off"),
    path("put-off/<int:pk>/renew/", deferrals.renew, name="put_off_renew"),
    path("put-off/<int:pk>/sign/", deferrals.sign, name="put_off_sign"),
    path("put-off/<int:pk>/withdraw/", deferrals.withdraw, name="put_off_withdraw"),
    path("workshop/", workshop.workshop, name="workshop"),
    path("workshop/share/", workshop.share, name="workshop_share"),
    path("jobs/new/", cards_desk.card_new, name="card_new"),
    path("jobs/<int:pk>/change/", cards_desk.card_change, name="card_change"),
    path("jobs/<int:pk>/change/<str:act>/", cards_desk.card_act, name="card_act"),
    path("jobs/<int:pk>/card.pdf", cards_desk.card_print, name="card_print"),
    path("stores/", stores.stores, name="stores"),
    path("stores/parts/new/", stores.part_new, name="part_new"),
    path("stores/parts/rob/", stores.part_rob, name="part_rob"),
    path("stores/parts/<int:pk>/", stores.part, name="part"),
    path("stores/parts/<int:pk>/<str:act>/", stores.part_act, name="part_act"),
    path("stores/tools/new/", stores.tool, name="tool_new"),
    path("stores/tools/<int:pk>/", stores.tool, name="tool"),
    path("inspections/", inspections.inspections, name="inspections"),
    path("inspections/new/", inspections.inspection_new, name="inspection_new"),
    path("inspections/<int:pk>/", inspections.inspection, name="inspection"),
    path("inspections/<int:pk>/change/", inspections.inspection_edit, name="inspection_change"),
    path("inspections/<int:pk>/<str:act>/", inspections.inspection_act, name="inspection_act"),
    path("tags/<int:pk>/", tags.tag, name="tag"),
    path("vehicles/<str:code>/tag/", tags.tag_hang, name="tag_hang"),
    path("vehicles/<str:code>/readings/", measures.reading_add, name="reading_add"),
    path("vehicles/<str:code>/readings/new/", measures.measure_new, name="measure_new"),
    path("measures/<int:pk>/", measures.reading_history, name="reading_history"),
    path("measures/<int:pk>/limit/", measures.measure_change, name="measure_change"),
    path("readings/<int:pk>/correct/", measures.reading_replace, name="reading_replace"),
    path("vehicles/<str:code>/checks/", inspections.use_check, name="use_check"),
]
