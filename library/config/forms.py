"""How every form of the site is drawn."""

from __future__ import annotations

from django.forms.renderers import TemplatesSetting


class FormRenderer(TemplatesSetting):
    """Finds form templates among the site's own: label, help, error, then the input."""

    form_template_name = "forms/form.html"
    formset_template_name = "forms/formset.html"
    field_template_name = "forms/field.html"
