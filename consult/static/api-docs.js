// Shows the API's description. What is tried out from here acts as the person who is signed in.
const place = document.querySelector("#description");

window.SwaggerUIBundle({
  url: place.dataset.schema,
  domNode: place,
  deepLinking: true,
  validatorUrl: null,
  requestInterceptor(request) {
    if (new URL(request.url, location.href).origin === location.origin) {
      request.headers["X-CSRFToken"] = place.dataset.csrf;
    }
    return request;
  },
});
