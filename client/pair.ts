/** The code comes behind the # of the address, which no server, proxy or log ever sees. */

const code = document.querySelector<HTMLInputElement>('input[name="code"]')
const given = decodeURIComponent(location.hash.slice(1)).replace(/[^0-9A-Za-z]/g, "")
if (code !== null && given !== "") {
  code.value = given
  // neither the history nor a bookmark keeps it
  history.replaceState(null, "", location.pathname)
}
