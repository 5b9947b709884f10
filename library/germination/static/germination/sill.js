/* Counting at the window sill: each change is saved at once, and it is seen and heard whether
   it was. Without this file, or without htmx, each dish has its button to save. */
(function () {
  "use strict";

  const RETRY_MS = 5000;

  /* Closing: what is not named is dead, until somebody writes the dead down themselves. */
  const followRest = (dish) => {
    const fields = [...dish.querySelectorAll("input")];
    const dead = fields.pop();
    let own = false;
    dead.addEventListener("input", () => (own = dead.value !== ""));
    dish.addEventListener("input", (event) => {
      if (event.target !== dead && !own) {
        const named = fields.reduce((sum, field) => sum + (Number(field.value) || 0), 0);
        dead.value = Math.max(0, Number(dish.dataset.sown) - named);
      }
    });
  };
  document.querySelectorAll("[data-sown]").forEach(followRest);

  const sill = document.querySelector("[data-sill]");
  if (!sill || !window.htmx) {
    return;
  }

  const unsaved = new Set();
  const timers = new Map();
  const saveButton = (form) => form.querySelector("[data-save]");

  const tell = (form, words, isWrong) => {
    const line = document.createElement("p");
    line.className = isWrong ? "not-saved" : "saving";
    line.textContent = words;
    form.querySelectorAll(".dish-state .saved, .dish-state .not-saved, .dish-state .saving").forEach((old) => old.remove());
    form.querySelector(".dish-state").append(line);
  };

  const saved = (form) => {
    unsaved.delete(form);
    saveButton(form).hidden = true;
  };

  const notSaved = (form, words) => {
    unsaved.add(form);
    tell(form, words, true);
    const button = saveButton(form);
    button.hidden = false;
    button.firstChild.textContent = sill.dataset.again;
  };

  const again = (form) => {
    window.clearTimeout(timers.get(form));
    if (unsaved.has(form)) {
      form.requestSubmit();
    }
  };

  const cannotReach = (event) => {
    const form = event.detail.elt;
    notSaved(form, sill.dataset.offline);
    window.clearTimeout(timers.get(form));
    timers.set(form, window.setTimeout(() => again(form), RETRY_MS));
  };

  sill.querySelectorAll("[data-step]").forEach((button) => (button.hidden = false));
  sill.querySelectorAll("[data-save]").forEach((button) => (button.hidden = true));

  sill.addEventListener("click", (event) => {
    const button = event.target.closest("[data-step]");
    if (button) {
      const field = document.getElementById(button.dataset.for);
      field.value = Math.max(0, (Number(field.value) || 0) + Number(button.dataset.step));
      field.dispatchEvent(new Event("change", { bubbles: true }));
    }
  });

  sill.addEventListener("htmx:beforeRequest", (event) => {
    unsaved.add(event.detail.elt);
    tell(event.detail.elt, sill.dataset.saving, false);
  });
  sill.addEventListener("htmx:afterSwap", (event) => {
    const form = event.target.closest("[data-dish]");
    if (form && event.detail.xhr.status < 300) {
      saved(form);
    } else if (form) {
      saveButton(form).hidden = false;
    }
  });
  sill.addEventListener("htmx:sendError", cannotReach);
  sill.addEventListener("htmx:timeout", cannotReach);
  sill.addEventListener("htmx:responseError", (event) => {
    const isOut = event.detail.xhr.status === 401;
    notSaved(event.detail.elt, isOut ? sill.dataset.out : sill.dataset.failed);
  });

  window.addEventListener("online", () => [...unsaved].forEach(again));
  window.addEventListener("beforeunload", (event) => {
    if (unsaved.size) {
      event.preventDefault();
    }
  });

  /* A page that lay open over night counts for the new day. */
  document.addEventListener("visibilitychange", () => {
    const day = sill.dataset.day;
    const now = new Date();
    const today = [now.getFullYear(), now.getMonth() + 1, now.getDate()]
      .map((part) => String(part).padStart(2, "0"))
      .join("-");
    if (document.visibilityState === "visible" && day && day < today && !unsaved.size) {
      window.location.reload();
    }
  });
})();
