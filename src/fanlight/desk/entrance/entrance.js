// The launch token stands behind "#", which browsers send nowhere; it is exchanged for a cookie and wiped from the
// address at once.
const token = new URLSearchParams(location.hash.slice(1)).get("token");
if (token) {
  history.replaceState(null, "", "/");
  const answer = await fetch("/enter", {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify({ token }),
  });
  if (answer.ok) {
    location.replace("/");
  } else {
    const { error } = await answer.json();
    document.getElementById("said").textContent = `${error.what}. ${error.remedy}`;
  }
}
