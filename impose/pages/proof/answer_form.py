"""The customer's answer: what to check, boxes to tick, and a text to send back by whatever message they use.

The page's one script puts together what is ticked and typed, copies it, and hands it to the phone's own way of
sharing. Without it (a mail program that runs none) the text stands there to be copied by hand, and the link opens a
mail with it.
"""

from __future__ import annotations

import json
from urllib.parse import quote

from impose.pages.proof.markup import Markup, fill_markup, make_element
from impose.profiles.customer_texts import CustomerTexts

CHECKS = ("check_spelling", "check_pictures", "check_sizes", "check_cloth")
"""What is asked before anybody agrees, as keys of the texts."""

_SCRIPTED = (
    "agree", "refuse", "still_open", "answer_name", "answer_date", "asks_change", "boxes_open", "all_ticked",
    "name_wanted", "copied", "copy_yourself",
)  # fmt: skip

SCRIPT = """
(function(){
var d=document,f=d.getElementById('answer'),t=d.getElementById('text'),m=d.getElementById('mail'),
s=d.getElementById('said'),ticks=d.querySelectorAll('input[type=checkbox]'),
head=f.getAttribute('data-head'),w=JSON.parse(f.getAttribute('data-texts'));
function v(i){return d.getElementById(i).value.trim()}
function say(k,n,x){var o=w[k];o=o[n]||o.other;return x===undefined?o:o.replace(/\\{[a-z]+\\}/,function(){return x})}
function digits(n){return String(n).replace(/\\d/g,function(c){return w.digits[c]})}
function put(){var o=[],open=0,i;for(i=0;i<ticks.length;i++){if(!ticks[i].checked){open++;
o.push('- '+ticks[i].getAttribute('data-says'))}}
var c=v('changes'),x=[head,''];
if(c){x.push(say('refuse'),'',c)}else if(!open){x.push(say('agree'))}else{x.push(say('still_open'));x=x.concat(o)}
x.push('',say('answer_name',0,v('name')),say('answer_date',0,v('date')));
t.value=x.join('\\n');m.href='mailto:?subject='+encodeURIComponent(head)+'&body='+encodeURIComponent(t.value);
s.textContent=c?say('asks_change'):open?say('boxes_open',open,digits(open)):v('name')?say('all_ticked'):
say('name_wanted')}
d.addEventListener('input',put);d.addEventListener('change',put);
function by(id,work){var b=d.getElementById(id);b.hidden=false;b.addEventListener('click',work)}
by('copy',function(){function done(){s.textContent=say('copied')}
function old(){t.focus();t.select();if(d.execCommand('copy'))done();
else s.textContent=say('copy_yourself')}
if(navigator.clipboard&&window.isSecureContext)navigator.clipboard.writeText(t.value).then(done,old);else old()});
if(navigator.share)by('share',function(){navigator.share({title:head,text:t.value}).catch(function(){})});
put();
})();
""".strip()


def answer_section(texts: CustomerTexts, reference: str, title: str) -> Markup:
    """The checks, room for changes, the name, and the answer as text; `reference` names exactly what is shown."""

    def say(key: str) -> str:
        return texts.fill_sentence("approval", key)

    head = texts.fill_sentence("approval", "answer_head", reference=reference, order=title)
    signed = [texts.fill_sentence("approval", f"answer_{part}", **{part: ""}) for part in ("name", "date")]
    plain = "\n".join((head, "", say("agree"), "", *signed))
    link = f"mailto:?subject={quote(head)}&body={quote(plain)}"
    ticks = [make_tick_box(f"check-{n}", say(key), say(key)) for n, key in enumerate(CHECKS, 1)]
    signature = make_element("b", say("signature"))
    return make_element(
        "section",
        make_element("h2", say("answer")),
        make_element("ul", [make_element("li", tick) for tick in ticks], class_="checks"),
        _make_field("changes", say("changes"), rows=3),
        make_element("div", _make_field("name", say("name")), _make_field("date", say("date")), class_="lines"),
        make_element("p", fill_markup(texts, "approval", "on_paper", signature=signature), class_="hand"),
        make_element("label", say("answer_text"), for_="text"),
        make_element("textarea", plain, id="text", rows=9, readonly=True),
        make_element("p", id="said", role="status", class_="status"),
        make_element(
            "p",
            make_element("button", say("copy"), id="copy", type="button", hidden=True),
            make_element("button", say("share"), id="share", type="button", hidden=True),
            make_element("a", say("mail"), id="mail", href=link),
            class_="ways",
        ),
        make_element("p", say("print_instead"), class_="quiet small"),
        class_="sign",
        id="answer",
        data_head=head,
        data_texts=_pack_texts(texts),
    )


def _pack_texts(texts: CustomerTexts) -> str:
    """What the script says, by key and number."""
    packed = {key: dict(texts.list_forms("approval", key)) for key in _SCRIPTED}
    return json.dumps({**packed, "digits": texts.custom.digits}, ensure_ascii=False, separators=(",", ":"))


def make_tick_box(ident: str, says: str, words: str | Markup, **more: str) -> Markup:
    """A box to tick, large enough for a thumb; `says` names it in the answer while it is open."""
    box = make_element("input", type="checkbox", id=ident, data_says=says)
    return make_element("label", box, make_element("span", words), for_=ident, **more)


def _make_field(ident: str, words: str, rows: int = 0) -> Markup:
    field = make_element("textarea", id=ident, rows=rows) if rows else make_element("input", id=ident, type="text")
    return make_element("div", make_element("label", words, for_=ident), field, class_="field")
