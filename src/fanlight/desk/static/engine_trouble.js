// Why the engine gave up on the open study, and the way to have it read again.
import { ask } from "./api.js";
import { html, useSignal } from "./html.js";
import { loadStudy, page } from "./model.js";

export function EngineTrouble() {
  const isBusy = useSignal(false);
  const why = useSignal("");
  const error = page.value?.engine?.error;
  if (!error) return null;
  const again = async () => {
    const study = page.value.id;
    isBusy.value = true;
    why.value = "";
    try {
      await ask(`/api/studies/${study}/complete`, { method: "POST" });
      await loadStudy(study);
    } catch (failed) {
      why.value = failed instanceof Error ? failed.message : String(failed);
    }
    isBusy.value = false;
  };
  return html`<p class="caution engine-trouble" role="alert">${error.where ? `${error.where}: ` : ""}${error.what}. ${error.remedy} ${why.value}
    <button class="small" disabled=${isBusy.value} onClick=${() => void again()}>read again</button></p>`;
}
