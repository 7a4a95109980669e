// The one script of these pages: passkeys, which browsers give to scripts only.
// A form with data-passkey asks its address + "/begin" what to ask the browser,
// and sends what the browser says to its address + "/finish".
"use strict";
(() => {
  const bytes = (text) => Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (c) => c.charCodeAt(0));
  const text = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer))).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");

  const send = async (address, what) => {
    const answer = await fetch(address, {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(what), credentials: "same-origin",
    });
    const said = await answer.json();
    if (!answer.ok) throw new Error(said.error || "That did not work. Try again.");
    return said;
  };

  const decoded = (options) => {
    options.challenge = bytes(options.challenge);
    if (options.user) options.user.id = bytes(options.user.id);
    for (const list of ["allowCredentials", "excludeCredentials"]) {
      for (const credential of options[list] || []) credential.id = bytes(credential.id);
    }
    return options;
  };

  const encoded = (credential) => {
    const r = credential.response;
    const response = { clientDataJSON: text(r.clientDataJSON) };
    if (r.attestationObject) {
      response.attestationObject = text(r.attestationObject);
      response.transports = r.getTransports ? r.getTransports() : [];
    } else {
      response.authenticatorData = text(r.authenticatorData);
      response.signature = text(r.signature);
      if (r.userHandle) response.userHandle = text(r.userHandle);
    }
    return {
      id: credential.id, rawId: text(credential.rawId), type: credential.type, response,
      authenticatorAttachment: credential.authenticatorAttachment || undefined,
      clientExtensionResults: credential.getClientExtensionResults(),
    };
  };

  const use = async (form) => {
    const begun = await send(form.action + "/begin", {});
    const publicKey = decoded(begun.options.publicKey);
    const credential = form.dataset.passkey === "create"
      ? await navigator.credentials.create({ publicKey })
      : await navigator.credentials.get({ publicKey });
    const fields = Object.fromEntries(new FormData(form));
    const done = await send(form.action + "/finish", { response: encoded(credential), fields });
    location.assign(done.next);
  };

  const words = (error) => {
    switch (error.name) {
      case "NotAllowedError": return "The browser did not give a passkey: it was called off, took too long, or there is none for here.";
      case "InvalidStateError": return "This device has a passkey for your account already.";
      case "SecurityError": return "Passkeys do not work at this address.";
    }
    return error.message;
  };

  if (!window.PublicKeyCredential) return;
  for (const form of document.querySelectorAll("form[data-passkey]")) {
    const button = form.querySelector("button");
    const wrong = form.querySelector(".wrong:last-of-type");
    form.querySelector("[data-without]").hidden = true;
    button.hidden = false;
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      wrong.hidden = true;
      button.setAttribute("aria-busy", "true");
      try {
        await use(form);
      } catch (error) {
        wrong.textContent = words(error);
        wrong.hidden = false;
      } finally {
        button.removeAttribute("aria-busy");
      }
    });
  }
})();
