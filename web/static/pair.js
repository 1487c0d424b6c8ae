// Takes the code from the part of the address that no browser sends to a server, and takes it
// out of the address.
'use strict';
(() => {
  const code = decodeURIComponent(location.hash.slice(1));
  if (!/^[0-9A-Za-z -]{1,40}$/.test(code)) return;
  history.replaceState(null, '', location.pathname);
  document.getElementById('code').value = code;
  document.querySelector('.pair button').focus();
})();
