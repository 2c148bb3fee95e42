#include "bench/pages.hpp"

namespace jigtrue::bench {
namespace {

constexpr const char* kScript = R"js('use strict';
const id = name => document.getElementById(name);
const say = text => { id('say').textContent = text; };

async function refresh() {
  const answer = await fetch('/view');
  if (!answer.ok) return;
  const now = await answer.text();  // what is held and open is asked after the waiting, in which it may change
  const held = document.activeElement && document.activeElement.id;
  const open = [...document.querySelectorAll('#view details[open]')].map(d => d.id);
  const view = id('view');
  view.innerHTML = now;
  for (const name of open) if (name && id(name)) id(name).open = true;
  if (held && id(held)) id(held).focus({preventScroll: true});
  const verdict = id('verdict');
  if (verdict && verdict.dataset.say !== say.last) { say.last = verdict.dataset.say; say(say.last); }
  for (const name of ['fixture', 'design'])
    if (id(name) && verdict && verdict.dataset[name]) id(name).value = verdict.dataset[name];
  document.title = (verdict ? verdict.dataset.title : '') + ' - bench';
}

async function post(path, fields) {
  const form = fields instanceof FormData ? fields : new FormData();
  if (!(fields instanceof FormData)) for (const [name, value] of Object.entries(fields || {})) form.append(name, value);
  const any = [...form.keys()].length > 0;
  try {
    const answer = await fetch(path, any ? {method: 'POST', body: form} : {method: 'POST'});
    const text = (await answer.text()).trim();
    note(answer.ok ? '' : text);
    return answer.ok;
  } catch (error) {
    note('The bench does not answer. Is its program still running?');
    return false;
  }
}
function note(text) { id('note').textContent = text; id('note').hidden = !text; }

let sending = 0;
async function send(file, path = '/photos') {
  if (!file) return;
  const form = new FormData();
  form.append('photo', file, file.name || 'photo.jpg');
  ++sending;
  busy('Sending the photo ...');
  await post(path, form);
  if (--sending === 0) busy('');
  refresh();
}
function busy(text) { id('busy').textContent = text; id('busy').hidden = !text; if (text) say(text); }

let counting = 0;
function stop() {
  clearInterval(counting);
  counting = 0;
  id('count').hidden = true;
  id('snap').textContent = id('snap').dataset.label;
}
function snap() {
  if (counting) { stop(); say('Stopped.'); return; }
  let left = Number(id('delay').value);
  const fire = async () => {
    stop();
    busy('Taking the photo ...');
    id('snap').disabled = true;
    await post('/snap');
    id('snap').disabled = false;
    busy('');
    refresh();
  };
  if (!left) { fire(); return; }
  const show = () => { id('count').textContent = left; say(left <= 3 || left === Number(id('delay').value) ? 'Photo in ' + left : ''); };
  id('count').hidden = false;
  id('snap').textContent = 'Stop';
  show();
  counting = setInterval(() => { if (--left > 0) show(); else fire(); }, 1000);
}

document.addEventListener('change', event => {
  const what = event.target;
  if (what.matches('input[type=file][name=photo]')) { for (const file of what.files) send(file); what.value = ''; }
  if (what.id === 'burned-photo') { send(what.files[0], `/loads/${id('verdict').dataset.burned}/inspection`); what.value = ''; }
  if (what.id === 'fixture' || what.id === 'design') post('/choice', {[what.id]: what.value});
  if (what.id === 'names-file' && what.files[0]) what.files[0].text().then(text => { id('names').value = text; });
});
document.addEventListener('click', event => {
  const button = event.target.closest('button[data-post]');
  if (button && !button.dataset.asked) {  // not disabled: that would take the focus from it
    button.dataset.asked = 'yes';
    post(button.dataset.post, button.dataset.fields ? JSON.parse(button.dataset.fields) : {}).then(refresh);
  }
  if (event.target.id === 'snap') snap();
  if (event.target.dataset.pick) id(event.target.dataset.pick).click();
});
document.addEventListener('keydown', event => { if (event.key === 'Escape' && counting) { stop(); say('Stopped.'); } });
document.addEventListener('submit', event => {
  if (event.target.id !== 'batch-form') return;
  event.preventDefault();
  const form = event.target;
  post('/batches', new FormData(form)).then(done => { if (done) { form.reset(); id('new-batch').open = false; refresh(); } });
});
document.addEventListener('dragover', event => { event.preventDefault(); document.body.classList.add('over'); });
document.addEventListener('dragleave', event => { if (!event.relatedTarget) document.body.classList.remove('over'); });
document.addEventListener('drop', event => {
  event.preventDefault();
  document.body.classList.remove('over');
  for (const file of event.dataTransfer.files) send(file);
});

const events = new EventSource('/events');
events.addEventListener('change', refresh);
events.onopen = () => { id('link').textContent = 'live'; id('link').className = 'on'; };
events.onerror = () => { id('link').textContent = 'no answer from the bench, trying again'; id('link').className = 'off'; };
)js";

}  // namespace

std::string script() { return kScript; }

}  // namespace jigtrue::bench
