"""The pages of the card file."""

from __future__ import annotations

from functools import partial

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy as _
from django.views.generic import DetailView, FormView, TemplateView

from accounts.access import CataloguePage, DeskPage, MemberPage, MemberRequest
from accounts.roles import BORROW, SERVE_DESK
from accounts.taking_away import PutBackPage, take_away
from library import hooks
from library.catalogue import services
from library.catalogue.browsing import options, shelf_page
from library.catalogue.figures import (
    Quantity,
    crossing_sentence,
    figure_line,
    figure_lines,
    min_population_line,
)
from library.catalogue.filters import VarietyFilter
from library.catalogue.forms import NoteForm, VarietyEditForm, VarietyForm
from library.catalogue.models import (
    BreedingStatus,
    Caution,
    Crop,
    SeasonNote,
    Variety,
)
from library.errors import Refused
from library.kept import as_kept

NOTES_SHOWN = 50
EDITS_SHOWN = 30


class BrowsePage(CataloguePage, TemplateView):
    """Varieties by name, searched and filtered. htmx asks for the list alone."""

    template_name = "catalogue/browse.html"

    def get(self, request, *args, **kwargs) -> HttpResponse:
        context = self.get_context_data(**kwargs)
        only_the_list = request.htmx and not request.htmx.history_restore_request
        template = "catalogue/includes/results.html" if only_the_list else self.template_name
        status = 400 if context["wrong"] else 200
        response = self.response_class(request, template, context, status=status)
        patch_vary_headers(response, ["HX-Request"])
        return response

    def get_context_data(self, **kwargs) -> dict:
        chosen = VarietyFilter(
            self.request.GET, queryset=Variety.objects.all(), request=self.request
        )
        page, wrong = self._page(chosen)
        typed = _as_typed(self.request)
        return super().get_context_data(
            page_obj=page,
            wrong=wrong,
            found=getattr(chosen, "found", None),
            chosen=typed,
            filtered=any(value for name, value in typed.items() if name != "q"),
            crop_options=options(Crop.objects.choices(), typed["crop"]),
            status_options=options(BreedingStatus.choices, typed["breeding_status"]),
            may_add=self.request.user.has_perm(SERVE_DESK),
            **kwargs,
        )

    def _page(self, chosen: VarietyFilter) -> tuple[Page, list[str]]:
        """The page asked for; an empty one, and what is wrong, when it cannot be told."""
        if not chosen.is_valid():
            return _no_page(), [str(e) for errors in chosen.errors.values() for e in errors]
        try:
            found = chosen.qs
        except Refused as refusal:
            return _no_page(), [str(refusal)]
        return shelf_page(
            found, self.request.GET.get("page"), with_names=bool(self.request.GET.get("q"))
        ), []


def _as_typed(request: HttpRequest) -> dict:
    """What the reader chose, to be shown as chosen: right or wrong."""
    asked = request.GET
    return {
        "q": asked.get("q", ""),
        "crop": asked.get("crop", ""),
        "breeding_status": asked.get("breeding_status", ""),
        **{box: asked.get(box) in ("true", "on", "1") for box in ("rare", "on_shelf")},
        "suits_my_season": asked.get("suits_my_season") in ("true", "on", "1"),
    }


def _no_page() -> Page:
    return Paginator([], 1).page(1)


class CropsPage(CataloguePage, TemplateView):
    template_name = "catalogue/crops.html"

    def get_context_data(self, **kwargs) -> dict:
        crops = Crop.objects.with_variety_count().select_related("species")
        return super().get_context_data(crops=crops.in_shown_order(), **kwargs)


class CropPage(CataloguePage, DetailView):
    template_name = "catalogue/crop.html"
    queryset = Crop.objects.with_figures()

    def get_context_data(self, **kwargs) -> dict:
        crop = self.object
        kin = Crop.objects.filter(species=crop.species_id).in_shown_order()
        return super().get_context_data(
            species=crop.species,
            figures=figure_lines(crop.species),
            cautions=crop.species.cautions.all(),
            kin=[other for other in kin if other != crop],
            crossing=crossing_sentence(crop.species, [each.local_name for each in kin]),
            variety_count=crop.varieties.count(),
            **kwargs,
        )


class VarietyPage(CataloguePage, DetailView):
    """One card. An address with an old name leads to the present one."""

    template_name = "catalogue/variety.html"
    queryset = (
        Variety.objects.with_crop()
        .select_related("added_by")
        .prefetch_related("names", "crop__species__figures")
    )

    def get_object(self, queryset=None) -> Variety:
        return get_object_or_404(self.get_queryset(), pk=self.kwargs["pk"])

    def get(self, request: HttpRequest, *args, **kwargs) -> HttpResponse:
        self.object = self.get_object()
        if kwargs["slug"] != self.object.slug:
            return redirect(self.object)
        return self.render_to_response(self.get_context_data(object=self.object))

    def get_context_data(self, **kwargs) -> dict:
        variety, member = self.object, self.request.user
        species = variety.crop.species
        kin = Crop.objects.filter(species=species).choices()
        notes = variety.season_notes.readable_by(member).with_author()
        return super().get_context_data(
            species=species,
            synonyms=[name for name in variety.names.all() if name.is_synonym],
            cautions=Caution.objects.about_variety(variety),
            general_cautions=Caution.objects.about_everything().order_by("pk"),
            min_population=min_population_line(variety),
            isolation=figure_line(species, Quantity.ISOLATION_HOME_M),
            crossing=crossing_sentence(species, [name for _slug, name in kin]),
            notes=notes[:NOTES_SHOWN],
            may_write=member.has_perm(BORROW),
            may_edit=member.has_perm(SERVE_DESK),
            edits=self._edits() if member.has_perm(SERVE_DESK) else [],
            **kwargs,
        )

    def _edits(self):
        return self.object.edits.select_related("edited_by")[:EDITS_SHOWN]


class ServiceForm(FormView):
    """A form whose service may refuse: the sentence goes to the field that it is about."""

    done = _("Done.")

    def form_valid(self, form) -> HttpResponse:
        try:
            result = self.serve(form.cleaned_data)
        except Refused as refusal:
            field = refusal.field if refusal.field in form.fields else None
            form.add_error(field, str(refusal))
            return self.render_to_response(
                self.get_context_data(form=form), status=refusal.status
            )
        messages.success(self.request, self.done)
        return redirect(result)

    def form_invalid(self, form) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=400)

    def serve(self, data: dict):
        """Call the service; what it returns is where the reader goes next."""
        raise NotImplementedError


class VarietyAddPage(DeskPage, ServiceForm):
    template_name = "catalogue/variety_form.html"
    form_class = VarietyForm
    done = _("The card is written.")

    def get_initial(self) -> dict:
        slug = self.request.GET.get("crop", "")
        crop = Crop.objects.filter(slug=slug).first() if slug.isprintable() else None
        return {"crop": crop, "name": self.request.GET.get("name", "")[:120]}

    def serve(self, data: dict) -> Variety:
        return services.add_variety(by=self.request.user, **data)


class VarietyEditPage(DeskPage, ServiceForm):
    template_name = "catalogue/variety_form.html"
    form_class = VarietyEditForm
    done = _("The card is changed.")

    @cached_property
    def variety(self) -> Variety:
        cards = Variety.objects.with_crop().prefetch_related("names")
        return get_object_or_404(cards, pk=self.kwargs["pk"])

    def get_form_kwargs(self) -> dict:
        own = {"variety": self.variety, "member": self.request.user}
        kwargs = super().get_form_kwargs()
        del kwargs["initial"]
        return kwargs | own

    def get_context_data(self, **kwargs) -> dict:
        return super().get_context_data(variety=self.variety, **kwargs)

    def serve(self, data: dict) -> Variety:
        revision = data.pop("revision")
        return services.edit_variety(
            variety=self.variety, by=self.request.user, changes=data, revision=revision
        )


class SeasonNoteAddPage(MemberPage, ServiceForm):
    template_name = "catalogue/note_form.html"
    form_class = NoteForm
    done = _("Your note is kept.")

    @cached_property
    def variety(self) -> Variety:
        return get_object_or_404(Variety, pk=self.kwargs["pk"])

    def get_initial(self) -> dict:
        return {"year": timezone.localdate().year, "readers": SeasonNote.Readers.MEMBERS}

    def get_context_data(self, **kwargs) -> dict:
        return super().get_context_data(variety=self.variety, **kwargs)

    def serve(self, data: dict) -> Variety:
        services.write_note(
            variety=self.variety, by=self.request.user, on=timezone.localdate(), **data
        )
        return self.variety


class SeasonNoteEditPage(MemberPage, ServiceForm):
    """A note of the member's own; anybody else's is not found."""

    template_name = "catalogue/note_form.html"
    form_class = NoteForm
    done = _("Your note is changed.")

    @cached_property
    def note(self) -> SeasonNote:
        mine = SeasonNote.objects.written_by(self.request.user).with_author()
        return get_object_or_404(mine, pk=self.kwargs["pk"])

    def get_context_data(self, **kwargs) -> dict:
        return super().get_context_data(note=self.note, variety=self.note.variety, **kwargs)

    def get_initial(self) -> dict:
        return {field: getattr(self.note, field) for field in NoteForm.base_fields}

    def serve(self, data: dict) -> Variety:
        services.edit_note(
            note=self.note, by=self.request.user, on=timezone.localdate(), **data
        )
        return self.note.variety


class SeasonNoteRemovePage(MemberPage, TemplateView):
    """One's own note, or for a coordinator one that others read.

    One press removes it and one puts it back; it asks first only where photos would go with it.
    """

    template_name = "catalogue/note_remove.html"

    @cached_property
    def note(self) -> SeasonNote:
        theirs = SeasonNote.objects.removable_by(self.request.user).with_author()
        return get_object_or_404(theirs, pk=self.kwargs["pk"])

    def get_context_data(self, **kwargs) -> dict:
        return super().get_context_data(
            note=self.note, variety=self.note.variety, for_good=self.for_good, **kwargs
        )

    @cached_property
    def for_good(self) -> list[str]:
        """What would go with the note and not come back."""
        return hooks.ask("goes_with_season_note", note=self.note)

    def post(self, request: MemberRequest, pk: int) -> HttpResponse:
        note, variety = self.note, self.note.variety
        if self.for_good and "sure" not in request.POST:
            return self.get(request)
        told = str(_("The note is removed."))
        remove = partial(services.remove_note, note=note, by=request.user)
        if self.for_good:
            remove()
            messages.success(request, told)
        else:
            undo = reverse("season-note-put-back")
            take_away(request, kept=as_kept([note]), remove=remove, told=told, undo=undo)
        return redirect(variety)


class SeasonNotePutBack(PutBackPage):
    def put_back(self, kept: str) -> Variety:
        return services.put_note_back(kept=kept, by=self.request.user).variety

    def nowhere(self) -> str:
        return reverse("browse")
