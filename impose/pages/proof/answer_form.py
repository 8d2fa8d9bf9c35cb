"""The customer's answer: what to check, boxes to tick, and a text to send back by whatever message they use.

The page's one script puts together what is ticked and typed, copies it, and hands it to the phone's own way of
sharing. Without it (a mail program that runs none) the text stands there to be copied by hand, and the link opens a
mail with it.
"""

from __future__ import annotations

from urllib.parse import quote

from impose.pages.proof.markup import Markup, make_element

CHECKS = (
    "Every name, number and word is spelt as it should be. By agreeing I take over the spelling.",
    "The right picture is on the right garment, in the right place.",
    "The sizes are right. I held a ruler to a garment.",
    "I know that cloth does not look like a screen: it does not glow, and white is not printed; it stays the colour "
    "of the cloth.",
)

SCRIPT = """
(function(){
var d=document,f=d.getElementById('answer'),t=d.getElementById('text'),m=d.getElementById('mail'),
s=d.getElementById('said'),ticks=d.querySelectorAll('input[type=checkbox]'),
head=f.getAttribute('data-head'),all=f.getAttribute('data-agree'),not=f.getAttribute('data-not');
function v(i){return d.getElementById(i).value.trim()}
function put(){var o=[],open=0,i;for(i=0;i<ticks.length;i++){if(!ticks[i].checked){open++;
o.push('- '+ticks[i].getAttribute('data-says'))}}
var c=v('changes'),x=[head,''];
if(c){x.push(not,'',c)}else if(!open){x.push(all)}else{x.push('Not all is checked yet. Open:');x=x.concat(o)}
x.push('','Name: '+v('name'),'Date: '+v('date'));
t.value=x.join('\\n');m.href='mailto:?subject='+encodeURIComponent(head)+'&body='+encodeURIComponent(t.value);
s.textContent=c?'You ask for a change.':open?open+(open>1?' boxes are':' box is')+' not ticked yet.':
v('name')?'All is ticked: please send the answer.':'All is ticked. Please write your name.'}
d.addEventListener('input',put);d.addEventListener('change',put);
function by(id,work){var b=d.getElementById(id);b.hidden=false;b.addEventListener('click',work)}
by('copy',function(){function done(){s.textContent='Copied. Paste it into your message.'}
function old(){t.focus();t.select();if(d.execCommand('copy'))done();
else s.textContent='Please copy the text yourself.'}
if(navigator.clipboard&&window.isSecureContext)navigator.clipboard.writeText(t.value).then(done,old);else old()});
if(navigator.share)by('share',function(){navigator.share({title:head,text:t.value}).catch(function(){})});
put();
})();
""".strip()


def answer_section(reference: str, title: str) -> Markup:
    """The checks, room for changes, the name, and the answer as text; `reference` names exactly what is shown."""
    head = f"Answer to approval {reference}, {title}"
    agree = "I agree to everything shown on the page, spelling included. Please print it."
    refuse = "Please do not print yet. I ask for this change:"
    plain = f"{head}\n\n{agree}\n\nName: \nDate: "
    link = f"mailto:?subject={quote(head)}&body={quote(plain)}"
    return make_element(
        "section",
        make_element("h2", "Please check and answer"),
        make_element(
            "ul",
            [make_element("li", make_tick_box(f"check-{n}", text, text)) for n, text in enumerate(CHECKS, 1)],
            class_="checks",
        ),
        _make_field("changes", "Changes, if any", rows=3),
        make_element("div", _make_field("name", "Name"), _make_field("date", "Date"), class_="lines"),
        make_element("p", make_element("b", "Signature"), " (on paper)", class_="hand"),
        make_element("label", "Your answer, to send back as it stands", for_="text"),
        make_element("textarea", plain, id="text", rows=9, readonly=True),
        make_element("p", id="said", role="status", class_="status"),
        make_element(
            "p",
            make_element("button", "Copy the answer", id="copy", type="button", hidden=True),
            make_element("button", "Share the answer", id="share", type="button", hidden=True),
            make_element("a", "Send it by mail", id="mail", href=link),
            class_="ways",
        ),
        make_element("p", "Or print this page, sign it, and send a picture of it.", class_="quiet small"),
        class_="sign",
        id="answer",
        data_head=head,
        data_agree=agree,
        data_not=refuse,
    )


def make_tick_box(ident: str, says: str, words: str | Markup, **more: str) -> Markup:
    """A box to tick, large enough for a thumb; `says` names it in the answer while it is open."""
    box = make_element("input", type="checkbox", id=ident, data_says=says)
    return make_element("label", box, make_element("span", words), for_=ident, **more)


def _make_field(ident: str, words: str, rows: int = 0) -> Markup:
    field = make_element("textarea", id=ident, rows=rows) if rows else make_element("input", id=ident, type="text")
    return make_element("div", make_element("label", words, for_=ident), field, class_="field")
