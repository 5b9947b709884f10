"""Pages of the album: a photo itself, adding one, removing one."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import View

from accounts.access import CataloguePage, MemberPage
from library.album.models import AttachedPhoto
from library.album.services import attach_photo, may_add_photo, remove_photo
from library.catalogue.models import SeasonNote, Variety
from library.errors import Refused
from library.photos.views import photo_response
from library.stock.models import Lot
from library.stock.service_pages import ServicePage


class PhotoForm(forms.Form):
    photo = forms.FileField(
        label=gettext_lazy("Photo"),
        max_length=200,
        help_text=gettext_lazy(
            "JPEG, PNG or WebP, up to 12 MB. It is drawn anew: where and when it was taken, "
            "and by which phone, is not kept."
        ),
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
    caption = forms.CharField(
        label=gettext_lazy("What it shows"),
        max_length=250,
        required=False,
        help_text=gettext_lazy("It is also read to those who cannot see the photo."),
    )


class PhotoFile(CataloguePage):
    """A photo, to whoever may see what it is of."""

    def get(self, request: Any, identifier: Any) -> HttpResponse:
        rows = AttachedPhoto.objects.visible_to(request.user).select_related("photo")
        return photo_response(
            request, get_object_or_404(rows, photo__identifier=identifier).photo
        )


class _AddPage(MemberPage, ServicePage):
    form_class = PhotoForm
    heading = gettext_lazy("Add a photo")
    lead = gettext_lazy(
        "Whoever sees this page will see the photo. On a photo of an old card cover the names "
        "and addresses of people first."
    )
    submit = gettext_lazy("Add the photo")
    done = gettext_lazy("Added.")
    subject: Any

    def dispatch(self, request: Any, *args: Any, **kwargs: Any) -> Any:
        user = request.user
        signed_in = user.is_authenticated and user.has_perm(self.needs)
        if signed_in and not may_add_photo(subject=self.subject, by=user):
            raise Http404
        return super().dispatch(request, *args, **kwargs)

    def act(self, asked: dict[str, Any]) -> AttachedPhoto:
        try:
            return attach_photo(
                subject=self.subject,
                upload=asked["photo"],
                caption=asked["caption"],
                by=self.request.user,
            )
        except Refused as refusal:
            refusal.field = "photo" if refusal.field == "photos" else refusal.field
            raise

    def back_to(self) -> str:
        return self.subject.get_absolute_url()

    def crumbs(self) -> list[tuple[str, str]]:
        return [(self.back_to(), str(self.subject))]


class AddToVariety(_AddPage):
    @cached_property
    def subject(self) -> Variety:
        return get_object_or_404(Variety, pk=self.kwargs["pk"])


class AddToLot(_AddPage):
    @cached_property
    def subject(self) -> Lot:
        rows = Lot.objects.visible_to(self.request.user)
        return get_object_or_404(rows, pk=self.kwargs["pk"])


class AddToNote(_AddPage):
    @cached_property
    def subject(self) -> SeasonNote:
        rows = SeasonNote.objects.readable_by(self.request.user).select_related("variety")
        return get_object_or_404(rows, pk=self.kwargs["pk"])

    def back_to(self) -> str:
        return f"{self.subject.variety.get_absolute_url()}#note-{self.subject.pk}"

    def crumbs(self) -> list[tuple[str, str]]:
        return [(self.back_to(), self.subject.variety.name)]


class RemovePhoto(MemberPage, View):
    http_method_names = ["post"]

    def post(self, request: Any, identifier: Any) -> HttpResponse:
        rows = AttachedPhoto.objects.removable_by(request.user).with_details()
        attached = get_object_or_404(rows, photo__identifier=identifier)
        back = attached.get_absolute_url()
        remove_photo(attached=attached, by=request.user)
        messages.success(request, _("Removed."))
        return redirect(back)
