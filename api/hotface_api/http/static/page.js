"use strict";
// Everything comes from this service: no script, style, font or validator of another host.
window.addEventListener("load", () => {
  window.SwaggerUIBundle({
    url: "openapi.json",
    dom_id: "#interface",
    deepLinking: true,
    validatorUrl: null,
    presets: [window.SwaggerUIBundle.presets.apis],
  });
});
