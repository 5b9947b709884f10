/* What the pages gain when a script may run. Every page works without this file. */
(function () {
  "use strict";

  const say = (words) => {
    const live = document.getElementById("live");
    if (live) {
      live.textContent = "";
      window.setTimeout(() => (live.textContent = words), 50);
    }
  };

  const words = (name) => document.body.dataset[name] || "";

  /* Keyboard and screen reader follow what has changed. */
  const settle = (root) => {
    const target =
      root.querySelector(".error-summary") ||
      root.querySelector("[data-focus]") ||
      root.querySelector("[aria-invalid='true']");
    if (target) {
      if (!target.matches("a, button, input, select, textarea, [tabindex]")) {
        target.tabIndex = -1;
      }
      target.focus();
    }
    const news = root.querySelector("[data-announce]");
    if (news) {
      say(news.dataset.announce || news.textContent.trim());
    }
  };

  /* A filter form that htmx serves needs no button press. */
  const submitFilters = (event) => {
    const form = event.target.closest && event.target.closest("form[data-autosubmit]");
    if (form && !event.target.matches("[type='search'], [type='text']")) {
      form.requestSubmit();
    }
  };

  /* A second tap on a slow connection is not a second loan. */
  const sendOnce = (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post" || form.dataset.again !== undefined) {
      return;
    }
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    form.setAttribute("aria-busy", "true");
  };

  const allowAgain = (root) => {
    root.querySelectorAll("form[data-sent]").forEach((form) => {
      delete form.dataset.sent;
      form.removeAttribute("aria-busy");
    });
  };

  const printPage = (event) => {
    if (event.target.closest && event.target.closest("[data-print]")) {
      window.print();
    }
  };

  /* Without a secure context there is no clipboard: the text is marked, to be copied by hand. */
  const copyText = (event) => {
    const button = event.target.closest && event.target.closest("[data-copy]");
    const field = button && document.getElementById(button.dataset.copy);
    if (!field) {
      return;
    }
    field.select();
    if (navigator.clipboard) {
      navigator.clipboard.writeText(field.value).then(() => {
        button.textContent = button.dataset.copied;
        say(button.dataset.copied);
      });
    }
  };

  document.addEventListener("change", submitFilters);
  document.addEventListener("submit", sendOnce);
  document.addEventListener("click", printPage);
  document.addEventListener("click", copyText);
  window.addEventListener("pageshow", () => allowAgain(document));

  document.addEventListener("htmx:afterSettle", (event) => settle(event.detail.elt));
  document.addEventListener("htmx:afterRequest", () => allowAgain(document));
  document.addEventListener("htmx:sendError", () => say(words("offline")));
  document.addEventListener("htmx:responseError", () => say(words("failed")));

  /* After a refused form the page opens at its summary, not at its top. */
  const summary = document.querySelector(".error-summary:not(.sample *)");
  if (summary) {
    summary.focus();
  }

  document.querySelectorAll("[data-print], [data-copy]").forEach((button) => (button.hidden = false));
})();
