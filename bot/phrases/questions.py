"""What a message asks. Each question is a pattern over its words with the farm names taken out, and what it is about."""

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from bot.fact import Ask, Choice, Doubt, Fact, Question, which_day
from bot.phrases.doses import doubt_unknown
from bot.phrases.supposing import reckoned, supposed
from bot.slots import Piece

_ASKING = re.compile(
    r"^(?:\w+ here |could you do me |can you do me |do me |so |ok |hey |hi |and |but |oh |also |well |quick question |pls |please |bot |just wondering |wondering |um |er |any chance you |do you know |d you know |you know |tell me |can you tell me |could you tell me |can i get |could i get |what about )*"
    r"(?:one page on|1 page on|a page on|till when|until when|how|hows|hw|hoo|what|whats|wot|wots|wut|wat|wats|whit|whits|when|whens|which|who|whos|whose|where|wheres|why|is|are|am|was|were|do|does|did|can|could|should|shall|will|would we|would it|would i|has|have|any|anything|anythin|anybody|anyone|got any|r any|ur the|show|list|give me|pull up|tell me|tell us|send|print|make me|look up|need to know|total|get me|let me see|can you|could you|help|story|info|remind me|chart|graph|status|update on|summary|growth|find|ready|due|stock|wheres|whens|i want to see|want to see|id like|howmany|haul|ship|worth|do we|have we|need|withdrawal|room|reminders|jobs)\b"
)
_SHEET = re.compile(r"\bprint|\bsheet\b|\bone page\b|\bpaper\b|\bpdf\b|\bprintout\b|\bpin up\b|\bhand to\b")
_CHART = re.compile(r"\bchart|\bgraph|\bpicture\b|\bplot\b|\bcurve\b|\bpic of\b(?!.*\bfrom\b)")
_FILE = re.compile(r"\bspreadsheet\b|\bcsv\b|\bexcel\b|\bfile\b|\bexport\b|\bdownload\b")

# About, and the words that ask it; the first that fits. {x} marks where the farm's names were.
_PATTERNS: tuple[tuple[str, str], ...] = (
    ("help", r"^help\b|\bw(?:h)?at (?:all |else )?can (?:i|you|we) (?:text|txt|send|say|do|ask|tell)|\bhow do (?:i|you|we) (?:tell|send|log|record|enter|put|let|text|say|undo|add|write)|\bwhat (?:do|should) i (?:text|type|send|say)\b|\bwhat can you do\b|\bhow does this work|\bwhat (?:sort of |kind of )?things can i\b|\bwhat to (?:text|send|type)\b|\bhow do you work|\binstructions\b|\bhow (?:do|does|can|should) (?:i|you|we|one|anyone) (?:use|work) (?:this|it|you|the (?:bot|app|thing))\b"),
    ("withdrawal", r"\bhold (?:em|them|her|him|it)? ?back\b|\bhow long\b.*\bhold (?!out)"),
    ("lasts", r"\bhow much longer\b|\bhold out\b"),
    ("animal", r"\bwhat have you got on\b|\blast (?:drench|dos|worm|jab|vaccin|treat|weigh|had)"),
    ("used", r"\b(?:did|have|has|do) (?:we|i|they|the \w+) (?:use|used|eat|eaten|feed|fed|spend|spent|go through|gone through|get through|got through)\b|\bwhat (?:did|has|have)\b.*\bcost\b(?! to)|\bfeed (?:bill|cost)s?\b|\bhow much\b.*\b(?:used|eaten|spent)\b|\bwhat(?:s| is| was) (?:the|our|my) (?:feed |spend|bill)"),
    ("shipped", r"\b(?:lambs|ewes|hoggets|they|we)\b.* make (?:more|less|as much)\b"),
    ("eggs", r"\beggs?\b(?! and spoon)|\blay(?:ing)?\b|\bslowing\b|\boff the lay\b"),
    ("lambing_due", r"\blamb\w*\b.*\bdue when\b|\bdue to lamb|\blambing (?:start|due|date|begin|kick)|\bwhen\b.*\b(?:lamb|lambing|lambs due|babies|start lambing)\b(?!.*\b(?:ready|ship|fit|weight)\b)|\bstart(?:ing)? (?:to )?lamb|\bwhen (?:are|is|do|does|will|should|would)\b.*\b(?:due|start|drop|begin)\b(?!.*\b(?:dose|shot|jab|booster|vaccin|order|wean)\b)|\bnext (?:babies|lambing)|\bdue date|\bhow long till? (?:lambing|they lamb)|\blambing\b.*\bwhen\b"),
    ("withdrawal", r"\bwithdrawal|\bwithhold|\bon hold\b|\bheld\b|\bhold on\b|\bstill under\b|\bclear(?: to (?:ship|go))?\b|\b(?:till|until) when\b|\bwhen (?:can|could|is|will)\b(?!.*\b(?:ready|enough|fit|weight|right)\b).*\b(?:ship|go|clear|safe|be sold|be shipped|leave)\b|^(?:can|could|is)\b.*\b(?:ship|go|be shipped|travel|leave|be sold|okay to ship|ok to ship|sell|safe to)\b|\bhow (?:many days|long) is the (?:hold|withdrawal|whp)|\bwhp\b|\bsafe to (?:ship|sell|eat|kill)|\bunder (?:a )?hold"),
    ("ship_plan", r"\bor\b.*\b(?:hold|keep|leave|wait)\b.*\b(?:week|them|em|longer|on)\b|\bany point (?:in )?(?:taking|sending|hauling|shipping|going|running)\b|\bor (?:give|should) (?:them|they)\b.*\banother week\b|\b(?:truck|ship|haul|send|sell|go)\b.*\bor\b.*\b(?:keep|hold on|wait|hang on|leave)\b|\btake a load\b.*\bor\b|\bship (?:this week )?(?:or|now or)\b|\bor wait\b|\bor (?:hang on|hold|leave)\b|\bshould (?:we|i) (?:send|ship|haul|take|sell|go|load|hold|wait|run)\b|\bsend them now\b|\bkeep feeding\b|\bhaul (?:wed|now|this)|\bgo (?:this week|now) or\b|\benough (?:for|to make) a load\b|\bmake a load\b|\bhold (?:them|off|on)\b|\bload or (?:wait|hold)|\bis there a load\b|\bworth a (?:trip|run|load)|\bworth (?:the|a|taking|takin|it|booking|sending|loading|going|goin|hauling|running)"),
    ("shipped", r"\bhow much (?:did|have) we (?:make|made|get|got|take|taken|clear|cleared)\b(?=.*\b(?:lambs?|ewes|sheep|load|draft|mart|sale)\b)|\b(?:did|have|has)\b.*\b(?:we )?(?:ship|shipped|sell|sold|sent)\b|\bshipped\b|\bsold\b|\bsales\b|\bwhat (?:did|have)\b.*\b(?:make|made|bring|brought|fetch|gross|get for|average)\b|\blast load\b|\bload make\b|\bhow (?:did|much did)\b.*\b(?:load|lambs|sale|they|wethers)\b.*\b(?:do|make|bring|fetch|go|get)\b|\bearned\b|\bincome\b|\blast (?:lot|draft|draw|sale)\b"),
    ("close", r"\bclose\b(?! on\b)(?<!mill close)|\bnearly (?:ready|there|fit)|\balmost (?:ready|there|fit)|\bnear(?:ly)? (?:weight|ready)|\bwithin\b|\bgetting there\b|\bjust (?:short|under|off)\b|\bnot far off\b|\ba (?:pound|kilo|bit) (?:off|short|away)|\bwho(?:s|se)? next\b|\bon the (?:edge|cusp)|\bnext to go\b"),
    ("close", r"\b(?:just about|nearly|almost) (?:heavy enough|ready|there|big enough)\b"),
    ("lambing_due", r"\bfirst date\b.*\blambs\b|\bfirst lambs\b.*\bdue\b"),
    ("when_ready", r"\bwhens\b.*\b(?:ready|ship|fit|(?:be|hit|make) \d+)\b|\bwhen\b.*\b(?:ready|ship|fit|make (?:weight|it|grade|\d+)|weight|come to \d+|hit|reach|get to|be (?:big|heavy|fat) enough|finish|finished|go|be there|be \d+|fat|killing)\b|\bwhat day\b.*\b(?:ready|big enough|ship|fit|hit)\b|\bhow (?:long|soon)\b.*\b(?:ready|make weight|fit|till? (?:he|she|it|they|its)|until (?:he|she|it|they)|to finish|hit|reach|before)\b(?!.*\blast)|\bwh(?:en|at (?:week|day|month))\b.*\b(?:make|be|hit|reach|crack|touch|top|see|get to|get up to) (?:\d|weight|ready)"),
    ("ready", r"\bhow many\b.*\b(?:will|would|could) (?:go|be|get) (?:over|past|above) \d|\bready\b|^(?:are |is )?any\b.*\bfit\b|^any(?:one|body|thing)? over\b|\bfit (?:to go|for)\b|\bmake (?:the )?(?:weight|grade)|\bwho(?:s|se)? (?:can |could |is |are )?(?:go|going|fit|ready)\b|\bwho can go\b|\bwhich\b.*\b(?:can go|can ship|are fit|fit to go|could go|to ship|are going|fit)\b|\bhow many\b.*\b(?:can go|to go|could go|fit|make it|would go|to ship|for the (?:works|mart|sale|market|factory|draft|truck)|could i (?:send|draw|draft|ship)|can i (?:send|draw|draft|ship)|over \d|are fit|going)\b|\bweigh ?list\b|\bhow many (?:fat|finished)\b|\bto draw\b|\bon the list\b|\bdraft(?:able)?\b"),
    ("due", r"\bany (?:vaccine|vaccination|dose|drench|jab|shot|booster)s?\b.*\b(?:coming up|soon|next|yet|due)\b|\bdue\b|\bshots?\b|\bneeds? (?:doing|dosing|jabb|vaccin|drench|their|her|his|a (?:jab|shot|dose|booster))|\bto[- ]?do\b(?! (?:us|me|them|him|her|it|for)\b)|\bjobs?\b|\bwhat(?:s| is) on (?:today|this week|tomorrow|for)|\bwhen (?:do|does|is|are)\b.*\b(?:dose|shot|jab|booster|vaccin|cdt|second|next|need|get)\b|\bon (?:today|the list today)|\bwhat (?:do|have) (?:i|we) (?:need to do|to do|got to do|have to do)|\bboosters?\b|\breminders?\b|\bwhat(?:s| is) (?:happening|next|coming up)|\bneed (?:the )?(?:booster|jab|vaccin|drench|dos)|\b(?:jabs?|dos(?:es|ing)|vaccin\w+|drenches|drenching)\b.*\b(?:coming|ahead|upcoming|this week|next week)\b"),
    ("order", r"\border|\bto get from\b|\bpick up (?:from|at)\b|\bshopping list\b|\bbuy\b|\brunning low|\blow on\b|\bshort of\b|\bneed(?:ing)? (?:any|anything|more)|\bwhat (?:do|should) (?:i|we) (?:get|need)\b|\bwhat(?:s| is) (?:low|short|running)|\b(?:need|want) (?:from|to get|to buy|to pick up)"),
    ("lasts", r"\blast\b(?! (?:year|week|load|month|night|lot|draft|sale|time|draw))|\bhow long (?:will|have|do|have we|till|before|until|is|can|does|would)\b|\bwhen\b.*\brun out|\brun out\b|\benough\b|\bget us (?:to|thru|through)|\bmake it (?:to|thru|through|till)|\bdo us\b|\bdo (?:til|till|until)\b|\bdays? of\b.*\bleft|\bsee us (?:to|thru|through|out)|\bhow many days\b|\bgone\b|\bdo (?:us|me|them)\b(?! an? )"),
    ("open", r"\bopen\b|\bshut\b|\bclosed?\b|\bopening hours\b|\bhours\b"),
    ("growth", r"\bgain|\bgrow|\bputting\b|\bweights? (?:of|for|chart|graph)|\bgraph (?:of|for)\b|\bchart (?:of|for)\b|\badg\b|\bper day\b|\bdoing (?:on|for) (?:weight|growth)|\bthriv|\bdlwg\b|\bgrowth\b|\bweights\b|\bdoing any good\b|\bhow (?:is|are|s)?\b.*\bcoming (?:on|along)|\bcoming (?:on|along)\b"),
    ("loads", r"\b(?:bushels?|bu|tonnes?|tons?)\b.*\b(?:did|have|has) we (?:take|taken|cut|get|got|haul|hauled|cart|carted|bring)\b|\b(?:have|did) we (?:taken?|carted?|hauled?)\b.*\b(?:off|in)\b|\bloads?\b|\btotal (?:bushels|bu|tonnes|tons)\b|\brun total|\byield|\btotal\b.*\b(?:harvest|in)\b|\bcome (?:off|in)\b|\bharvest(?:ed)?\b|\bbrought in\b|\bbring in\b|\bhow much\b.*\b(?:off|so far|haul|combin|cut|strip|reap)\w*(?: \S+){0,3}$"),
    ("bins", r"\bbins?\b|\broom in\b|\bhopper\b|\bsilos?\b|\broom (?:left )?(?:in|for)\b|\bwhere can\b"),
    ("head", r"^what (?:hens|ewes|lambs|rams|tups|hoggets|sheep|stock) (?:have|do) we\b|\bhow many\b|\bhead\b|\bcount\b|\bnumbers?\b|\bhowmany\b|\btotal (?:head|sheep|ewes|lambs)|\bhw many\b"),
    ("stock", r"\bwhere are we (?:at )?(?:on|for|with)\b|\bhow much\b|\bon hand\b|\bstock\b|\bleft\b|\bgot (?:any|left)\b|\bhave we\b|\bdo we have\b|\bwhat feed\b|\binventory\b|\bhow(?:s| is| are)(?: the| we)?\b.*\b(?:for|doing|holding|looking|off)\b|\bhw much\b|\bhow mch\b|\bhow many (?:bags|bales|litres|gallons)\b|\bany\b.*\bleft\b|\bwhats in the (?:shed|store|fridge)"),
    ("animal", r"\btell me\b|\bthe go w|\bstory\b|\babout\b|\bpull up\b|\bshow\b|\binfo\b|\brecord\b|\bhistory\b|\bdetails\b|\blook up\b|\bhows\b|\bhow is\b|\bhow(?:s| is)? .*\bdoing\b|\bwhat do (?:you|we) (?:know|have)\b|\bwho(?:s| is)\b|\bone page on\b|\bweigh\b|\bwhat(?:s| is| was| did)\b|\bsummary\b|\bwhere(?:s| is)\b|\bmother|\bdam\b|\bborn\b|\bhow old\b|\bcard\b|\bstatus\b|\bup with\b"),
)  # fmt: skip
_RECORD = re.compile(  # of itself a sheet: nobody reads a treatment record in a chat
    r"(?:(?:show|send|give|print|get)(?: me| us)? )?(?:the |our |my )?(?:treatments?|medicines?|meds|drugs?|dos(?:e|es|ing)) "
    r"(?:records?|books?|logs?|history|register)(?: (?:of|for|on) .*)?(?: please| pls)?"
)
# What a picture, sheet or file alone is asked of, by names that nobody uses in other questions.
_PAGES: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("withdrawal", re.compile(r"^(?!.*\b(?:due|needs?|left)\b).*(?:\btreatments?\b|\b(?:medicines?|meds?|drugs?|vet|dos(?:e|es|ing)) (?:records?|books?|logs?|sheets?|history|register)\b|\b(?:records?|log|history) of (?:the )?(?:doses|medicines|meds)\b|\bdoses? given\b)")),
    ("due", re.compile(r"\b(?:dos(?:e|es|ing)|vaccin\w+|jabs?|shots?|jobs?|to ?do) (?:list|sheet)s?\b")),
    ("ready", re.compile(r"\bsort(?:ing)?\b|\b(?:ship|shipping|draft|drafting|draw|load|sale) (?:list|sheet)s?\b|\blambs? to (?:ship|go|sell|send)\b")),
    ("growth", re.compile(r"\bweigh(?:ing)? (?:list|sheet)s?\b")),
    ("ship_plan", re.compile(r"\bfreight\b|\bload size\b|\beconomics\b|\b(?:bigger|smaller|fuller|full|part) load\b")),
    ("lambing_due", re.compile(r"\blambing (?:chart|graph|picture|list|sheet|file|dates?)\b")),
    ("order", re.compile(r"\b(?:order|shopping|feed|mill) list\b")),
    ("stock", re.compile(r"\b(?:feed|stores?) (?:chart|graph|picture|sheet|file)\b")),
)  # fmt: skip
# Whom to weigh, so that it is known who is ready.
_WEIGH_LIST = re.compile(
    r"^(?:\w+ ){0,5}weigh(?:ing)? ?list\b"
    r"|\b(?:who|whos|which|what|any|anyone|anybody|anything)\b.*\b(?:should|shall|shd|need|needs|needing|do i|do we|to|"
    r"worth|want|wants|could do with|must)\b.*\b(?:weigh|weighed|weighing|(?:on|over|across|through|thru) the scales?)\b"
    r"|\bwho(?:s|se)? (?:is )?worth weighing\b"
)
_COMPILED = tuple((about, re.compile(pattern)) for about, pattern in _PATTERNS)
_FRIENDS = re.compile(
    r"\bi can\b|\bare you\b|\bdo (?:you|u) want\b|\byou (?:home|coming|going|ok|around|free|want|up|there|awake|see|get|got|hear|do)\b|\bcan (?:you|u|someone|somebody|ye) (?:grab|bring|get|pick|feed|check|shut|let|come|help|call|ring|give|do|turn|move|take|go|put|hold|open|close|watch)|\bdinner\b|\blunch\b|\bsupper\b|\bbeer\b|\bpint\b|\bmovie\b|\bkids?\b|\bschool\b|\bclass\b|\btractor\b|\bphone\b|\bcar\b|\bweather\b|\brain(?:ing)?\b|\bwho(?:s)? (?:cooking|home|driving|coming|got my|has my)|\bwhat time\b|\bwhere(?:s| is| are) (?:the|my|your|you)\b.*\b(?:keys?|phone|truck|quad|you|boots|knife|hammer|dog)\b"
)


_BEGINS = re.compile(
    r"^(?:when (?:is|does|do|will|can|are|should)|how (?:long|many|much|soon)|will (?:that|it|they|he|she|the)|is (?:that|it) (?:enough|ok|ready|much)|"
    r"can (?:he|she|it|they|we) (?:go|ship)|what (?:does|is|will|do)|does that|do (?:i|we)|should (?:i|we)|is (?:he|she) |whens|hows|how is)\b"
)


def begins(pieces: Sequence[Piece]) -> bool:
    """Whether a question begins here, in the middle of what is told."""
    return bool(_BEGINS.match(" ".join(p.text for p in pieces)))


def question(fact: Fact, marked: bool) -> Question | Ask | None:
    """The question a stretch asks, an Ask where it lacks what it is about, or None where it asks nothing of the farm."""
    text = " ".join(p.text for p in fact.pieces if p.kind != "sep" or p.text in ("and",))
    try:
        if (supposing := supposed(fact, text)) is not None:
            return supposing
    except Doubt as doubt:
        return doubt.ask
    record = _RECORD.fullmatch(text)
    page = (_CHART.search(text) or _SHEET.search(text) or _FILE.search(text) or record) and not fact.word(
        "made", "printed", "sent", "took", "taken", "taking"
    )
    if (reckoning := reckoned(fact, text)) is not None and not (page and _of_page(fact, text)):
        return replace(reckoning, as_=_as(text)) if page else reckoning
    listed = _WEIGH_LIST.search(text) is not None
    if not (marked or _ASKING.match(text) or page or listed):
        return None
    if _tells(fact, text, marked) and not page and not _COMPILED[0][1].search(text):
        return None
    if re.match(r"(?:we )?(?:have|got) (?:about |only |just )?\d", text) and fact.named("item"):
        return None  # "have 340 L of diesel, enough to get to christmas?": told first
    if marked and not _ASKING.match(text) and any(p.unit for _, p in fact.nums()):
        return None  # "like two bags left, maybe three?": told, and not sure
    about = (_of_page(fact, text) if page else None) or ("weigh" if listed else None)
    about = about or next((name for name, pattern in _COMPILED if pattern.search(text)), None)
    if about is None and marked and fact.named("item") and re.match(r"^(?:hows|how is|how are|any|much)\b", text):
        about = "stock"
    if (
        about is None
        and fact.named("product")
        and re.match(r"^(?:who(?:s|se)?|which|what)\b.*\b(?:needs?|wants?)\b", text)
    ):
        about = "due"
    lone = len(fact.pieces) <= 2 and sum(p.kind in ("num", "tag", "name") for p in fact.pieces) == 1
    if about is None and marked and lone:
        about = "animal" if fact.tags() else "stock" if fact.named("item") else None
    if about is None:
        return None
    try:
        return _filled(fact, about, text, marked)
    except Doubt as doubt:
        return doubt.ask


def _of_page(fact: Fact, text: str) -> str | None:
    """What is drawn, printed or put into a file, where its name or a farm name alone says it: "milk as a chart"."""
    named = next((about for about, pattern in _PAGES if pattern.search(text)), None)
    other = next((about for about, pattern in _COMPILED if pattern.search(text)), None)
    if named or other not in (None, "growth", "animal") or re.search(r"\bpic of\b", text):
        return named  # "pic of the lambs racing" stands under a picture, and asks for none
    if fact.tags():
        if other == "animal" and _CHART.search(text):
            return "growth"
        return other or ("animal" if _SHEET.search(text) else "growth")
    for table, about in (("item", "stock"), ("bin", "bins"), ("crop", "bins")):
        if fact.named(table):
            return about
    return "growth" if fact.named("group") and len(fact.pieces) <= 4 else None  # "pen 1 chart please"


def _tells(fact: Fact, text: str, marked: bool) -> bool:
    """Whether it tells something, or speaks to somebody, though it looks like a question."""
    if _FRIENDS.search(text) and not re.search(r"\bremind me\b", text):
        names = fact.named("supplier") or fact.named("group") or any(p.tags and p.full for p in fact.pieces)
        if not names or re.search(
            r"\bcan (?:you|u|someone|ye) (?:grab|bring|get|pick|feed|check|shut|let|give|turn|move|take|put)", text
        ):
            return True
    if (
        re.match(
            r"^(?:is|are|was|were|did|do|does|will|have|has|need|any|ship|ready|due|total|growth|stock|got any|haul|worth|withdrawal|chart|graph|find|summary)\b",
            text,
        )
        and not marked
    ):
        if re.match(r"^(?:need|was|were|ship|have|has|did|ready|haul|do|got any)\b", text):
            return not re.search(
                r"\?|\bor wait\b|\bor (?:hang on|hold|leave)\b|^do (?:i|we|you|any|the|they)\b|^did (?:we|i)\b|^have we\b|^has\b|^haul\b.*\bor\b|^ready\b|^got any\b",
                text,
            )
    if re.match(r"^(?:when|if|what a|how about|who knew|what the|which is|which was|where)\b", text) and not marked:
        return not re.match(
            r"^(?:when (?:do|does|is|are|will|can|should|would|did|s)|whens|what (?:do|did|is|are|can|feed|all|day|have|needs|should|s)|which (?:ones|lambs|are|of|is the|ewes)|where (?:can|is|are|does))\b",
            text,
        )
    if re.match(r"^will (?!the\b|it\b|they\b|he\b|she\b|that\b|we\b|there\b|this\b)", text) and not marked:
        return not (fact.named("item") or fact.tags() or fact.named("supplier")) or bool(
            re.match(r"^will (?:order|get|do|be|weigh|ring|call|send|take)\b", text)
        )
    if re.match(r"^(?:can|could|should|will|shall|does)\b", text) and not marked:
        return bool(re.match(r"^(?:can|could|should) (?:have|of|really|probably|maybe)\b", text))
    return False


def _filled(fact: Fact, about: str, text: str, marked: bool) -> Question | Ask | None:
    """The question with the names it is about."""
    aims = (
        "to", "hit", "hits", "reach", "over", "make", "be", "at", "past", "under", "within", "above", "gets to",
        "up to",
    )  # fmt: skip
    fact.use(*(n for n, p in fact.nums() if n and fact.pieces[n - 1].text in aims))
    tags = fact.tags()
    if not tags:
        doubt_unknown(fact, (), new=False)
    tag = tags[0][1] if len(tags) == 1 else None
    of_stock = about in ("lasts", "order", "stock")
    if tag is None and len(fact.before) == 1 and not of_stock and re.search(r"\b(?:he|she|him|her|it)\b", text):
        tag = fact.before[0]
    one = {t: _one(fact, t) for t in ("group", "item", "product", "supplier", "bin", "crop")}
    if fact.group and not any(one.values()) and not tags and _THERE.search(text):
        one["group"] = fact.group  # "..., how many in there now"
    if one["product"] and any(q.text in ("or", "and") for n, _ in fact.named("product") for q in _next_to(fact, n)):
        one["product"] = None  # "any drench or needles due": whatever it is
    if of_stock and one["item"] is None and fact.item and re.search(r"\b(?:it|that|they)\b", text):
        one["item"] = fact.item
    bare = re.match(
        r"^(?:is that |is it )?enough\b|^(?:so )?how (?:much|many)(?:s| is| are|)?(?: there)? left\b|^whats left\b",
        text,
    )
    if of_stock and not any(one.values()) and fact.item and bare:
        one["item"] = fact.item  # "used 2 bags of milk, how much is left"
    if about in ("lasts",) and one["item"] is None:
        if re.search(r"\bit\b|\bthat\b|\bthey\b", text) and not any(one.values()):
            return Ask("How long will what last?", tuple(Choice(i.name) for i in fact.plan.item[:3]))
        if not any(one.values()):
            return None
    if about == "help":
        return Question(about="help")
    if about == "weigh":
        return Question(about="close", group=one["group"], by=_by(fact, about, text), weigh=True)
    if tag and about in ("animal", "growth", "when_ready", "withdrawal"):
        one["group"] = None  # "the ram 3002"
    if about == "due" and tag and not re.search(r"dose|jab|shot|boost|vacc|drench|second|next|cdt", text):
        animal = fact.farm.animals[tag]
        about = "lambing_due" if animal.sex == "ewe" and (animal.age(fact.said.date()) or 999) > 300 else about
    if about == "lambing_due" and one["group"] is None:
        ewes = [g for _, g in fact.named("group") if g in fact.farm.keeping("ewes")]
        one["group"] = ewes[0] if len(set(ewes)) == 1 else None
    if about == "lambing_due" and not tag and not one["group"] and re.search(r"\bshes?\b", text):
        return Ask("Which ewe?")
    about = _by_names(about, one, tag, text, fact)
    if about in _OF_ONE and not tag and not one["group"]:
        if re.search(r"\b(?:he|hes|she|shes|him|her|that one|this one)\b", text):
            return Ask("Which animal?")
        if about == "animal":
            return None
    if about == "open" and not one["supplier"]:
        return None
    if about in ("head",) and not (
        one["group"]
        or re.search(
            r"\bhead\b|\bsheep\b|\bewes\b|\blambs\b|\bhens\b|\banimals\b|\bon the (?:place|farm)\b|\btotal\b|\bhave we\b|\bdo we have\b|\bwe got\b|\brams\b|\btups\b|\bhoggets\b|\bgot\b",
            text,
        )
    ):
        return None
    if about in ("stock",) and not (one["item"] or re.search(_ALL_STOCK, text)):
        return None
    if (
        about == "due"
        and not marked
        and not re.search(
            r"\bdue\b|\bjobs?\b|\breminders?\b|\bto ?do\b|\bshots?\b|\bbooster|\bjab|\bneed|\bdose|\bcdt|\bsecond|\bnext\b|\bvaccin",
            text,
        )
    ):
        return None
    since, till = _span(text, fact.said.date()) if about == "used" else (None, None)
    as_ = _as(text) or ("sheet" if _RECORD.fullmatch(text) else None)
    return Question(
        about=about, tag=tag, group=one["group"] if about not in ("eggs",) or one["group"] else None, item=one["item"],
        product=one["product"], supplier=one["supplier"], bin=one["bin"], crop=one["crop"], by=_by(fact, about, text), as_=as_,
        since=since, till=till,
    )  # fmt: skip


def _next_to(fact: Fact, n: int) -> Sequence[Piece]:
    return [*fact.pieces[max(0, n - 1) : n], *fact.pieces[n + 1 : n + 2]]


_THERE = re.compile(
    r"\b(?:in (?:there|it|with them|that (?:one|lot|mob|pen|group))|of (?:them|those)|there (?:now|altogether))\b"
)


_OF_ONE = ("when_ready", "growth", "animal", "withdrawal", "lambing_due")
_ALL_STOCK = (
    r"\bfeed\b|\bstock\b|\bon hand\b|\binventory\b|\bstores?\b|\bshed\b"
    r"|^what (?:have we|do we have|have i|weve)(?: got)?(?: left)?(?: in)?$"
)


def _span(text: str, today: date) -> tuple[date, date]:
    """The days a question about what is over is for; this month where none are said."""
    week, month, year = today - timedelta(today.weekday()), today.replace(day=1), today.replace(month=1, day=1)
    said = re.search(r"\b(this|last) (week|month|year)\b|\b(today|yesterday)\b", text)
    if said is None or said[0] == "this month":
        return month, today
    if said[3]:
        day = today if said[3] == "today" else today - timedelta(1)
        return day, day
    start = {"week": week, "month": month, "year": year}[said[2]]
    if said[1] == "this":
        return start, today
    before = start - timedelta(1)
    starts = {"week": start - timedelta(7), "month": before.replace(day=1), "year": before.replace(month=1, day=1)}
    return starts[said[2]], before


def _as(text: str) -> str | None:
    return (
        "file" if _FILE.search(text) else "chart" if _CHART.search(text) else "sheet" if _SHEET.search(text) else None
    )


def _one(fact: Fact, table: str) -> str | None:
    found = list(dict.fromkeys(name for _, name in fact.named(table)))
    return found[0] if len(found) == 1 else None


def _by_names(about: str, one: dict[str, str | None], tag: str | None, text: str, fact: Fact) -> str:
    """What the names in a question make of it: a product or an item of one name, an animal asked after."""
    both = one["item"] == one["product"] and one["item"] is not None
    if about == "stock" and not one["item"] and re.search(r"\bdoing\b|\blooking\b", text):
        about = "animal" if tag or one["group"] else about
    if about in ("due", "withdrawal"):
        one["item"] = None if both or about == "withdrawal" else one["item"]
        if about == "due" and one["item"] and not one["product"]:
            about = "stock" if re.search(r"\bleft\b|\bhow much\b", text) else about
    elif both or about == "used":
        one["product"] = None
    if about in ("order", "stock", "lasts", "open"):
        one["product"] = None if one["item"] else one["product"]
    if about != "open" and about not in ("order", "stock", "lasts"):
        one["supplier"] = None
    if about in ("order", "stock", "lasts"):
        one["group"] = None
    if about == "head" and one["item"]:
        one["group"] = None
        return "stock"
    if about == "head" and one["bin"]:
        return "bins"
    if about in ("stock", "lasts") and one["bin"]:
        one["item"] = None
        return "bins"
    if about == "stock" and one["crop"] and not one["item"]:
        return "bins"
    if about == "loads" and not one["crop"] and (one["bin"] or one["item"]):
        return "bins" if one["bin"] else "stock"
    if about not in ("bins",):
        one["bin"] = None
    if about not in ("bins", "loads", "stock"):
        one["crop"] = None
    if about in ("bins", "loads"):
        one["item"] = one["group"] = None
        if one["bin"]:
            one["crop"] = None
    if about == "animal" and not tag:
        if one["item"]:
            one["group"] = None
            return "stock"
        if one["group"] and one["group"] in fact.farm.keeping("hens"):
            return "eggs"
        if one["group"] and re.search(r"\bdoing\b|\bgrow|\bgain", text):
            return "growth"
        if one["bin"]:
            return "bins"
    if about == "eggs" and re.search(r"\bhow many (?:hens|chickens|chooks|layers)\b", text):
        return "head"
    if about == "ready" and tag and re.match(r"^(?:is|can)\b", text):
        return "withdrawal" if re.match(r"^can\b", text) else "when_ready"
    if about not in ("due", "withdrawal"):
        one["product"] = None
    if about not in ("stock", "lasts", "order", "used"):
        one["item"] = None
    return about


_NO_DAY = ("used", "shipped", "loads", "eggs", "growth", "animal", "head", "stock", "bins", "help", "lambing_due")


def _by(fact: Fact, about: str, text: str):  # type: ignore[no-untyped-def]
    """The day named, where a day to come can be meant; today, this week and soon are none."""
    if about in _NO_DAY:
        return None
    for p in fact.pieces:
        if p.day and p.day.names_day and p.day.form != "vague":
            if p.day.form == "day" and p.day.offset == 0:
                return None
            days = p.day.days(fact.said, True, fact.plan.farm.country)
            if len(days) == 1:
                return days[0] if days[0] != fact.said.date() else None
            if len(days) > 1 and p.day.form != "weekend":
                raise which_day(fact, [p], days)
            if days:
                return days[-1] if about == "lasts" else days[0]
    return None
