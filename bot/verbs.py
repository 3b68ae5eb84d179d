"""The words of the barn by what they do: one table from words to classes. No pattern, no order, no meaning beyond that.

A word may do several things ("put" moves, feeds and lets rams in); the fact it stands in decides. Words that are only
sometimes a doing ("is", "at", "for") stand here too, so that they are never taken for a slip of another word.
"""

_TABLE = """
hold: sitting on, inventory, stock take, stocktake, feed count, left, have, has, got left, down to, remaining, remain, on hand, in stock, count, counted, we've got, weve got, ive got, i've got, theres, there's, there is, there are, have got, in the shed, in the barn, in the loft, in the store, in the tank, in the fridge, still have, stock, in the drawer, in the freezer, in the stack, in the yard, yet, to go round, stands at, sitting at, sits at, showing, reads, reading
out: out of, none left, all gone, ran out, run out, no more, clean out, fresh out, all out, bone dry, no
come: paid, topped up, filled up, got, picked up, pick up, came, come, delivered, received, rcvd, recd, arrived, dropped off, bought, brought, fetched, collected, landed, turned up, in today, took delivery, unloaded, dropped, came in, got in, stocked up, home with, delivery, has arrived, grabbed, lifted
borrow: borrowed, borrow, lend of, loan of, got a lend, on loan, len
fed: cracked open, cracked, tore open, busted open, fed, used, opened, went thru, went through, gone through, went into, burned, burnt, bedded, put out, fed out, feeding, ate, eaten, eats, scattered, drank, used up, threw, gave, poured, getting through, going through, tore into, started, started on, broke into, broke open, put in, hung, spread, took, filled with, mixed, mixed up, rolled out, finished, through, thru, gone thru
lend: lent, loaned, lend
spoil: tossed, toss, rained on, chuck it, chuck them, chuck em, threw away, thrown away, threw out, thrown out, dumped, spoiled, spoilt, mouldy, moldy, wasted, binned, chucked, chucked out, ruined, gone off, burst, split, went off, rotten, got wet, mould, mold, wrecked, rats got, mice got
giveback: gave back, paid back, given back, returned, gave them back, brought back, took back, owed
order: ordered, on order, put in for, called in, order in, put in an order, reordered, order for, order of, order placed, order, ordering, booked, rang in, phoned in, due in, coming
dose: gave, given, jabbed, jagged, vaccinated, vacced, drenched, treated, injected, dosed, wormed, jag, jab, jabs, jags, shot, shots, bolused, injection, vaccine, vaccination, treatment, poured on, sprayed on, dose, did, done, has had, had, got, into, stuck, doing, administered
weigh: weighed, weighs, weigh in, weight, weights, wt, wts, scale, scales, was, is, at, went, came in at, hit, tipped, tips, weighing, weighed in, weighs in, are, were, now, says, up to, down to, made, turned, only, ran in
average: averaged, average, avg, averaging, mean, averages, av, ave, run
move: moved, brought, shifted, put, drafted, turned out, turned into, brought in, let out, swapped, went to, went into, over to, move, walked, run in with, moving, shoved, shifting, up to, in with, back to, chased, to
ship: went to town, went to the sale, went to the mart, went to the works, went to the factory, to the sale, to the sale barn, to the auction, to market, to the market, to town, to the yards, to the stockyards, to the plant, to the packer, to the processor, to the butcher, to the abattoir, shipped, loaded, on the truck, on the trailer, on the lorry, hauled, sent, trucked, away, off to, gone to, left on, went to market, to the works, to the mart, on the wagon, on the float, away to, headed to, went off, to the factory, consigned, on the boat, went on the truck, dropped at
sell: sold, flogged, made, fetched, selling, sale, sales
die: lost, died, dead, killed, didn't make it, didnt make it, found dead, put down, passed away, fox got, coyote got, coyotes got, dog got, put to sleep, pts, shot, perished, passed in the night, passed overnight, found stiff, is gone, was dead, fox took, eagle got, crow got, got by, drowned, croaked, gone, hawk got, stoat got, mink got, badger got, succumbed
cull: cull, culled, culling, cull list, cull pen, to go, go on the next, on the next truck, on the next load, next load, next truck, culls, going down the road, for the chop, mark for cull
lambed: twinned, lambed, lambing, had, has had, twins, twin, triplets, trips, triplet, single, singles, born, gave birth, dropped, yeaned, quads, newborn, newborns, popped out, popped, delivered, pair of
foster: stuck, fostered, grafted, adopted, mothered, took, taken to, has taken to, took to, set on, put, foster, adopt, graft, onto, on to, accepted
pulled: pulled, pulled off, on the bottle, off the ewe, off her mother, off their moms, off their mothers, off their dams, to the bottle, bottle, taken off, took off, off his mother, onto the bottle, lifted off, on to the bottle, pulling, off its mother, to bottle
weaned: weaned, weaning, off milk, off the milk
docked: docked, tailed, tails, ringed, docking, tails done, rubber ringed, tails off, rings on, tail ringed, dock, ringing
castrated: castrated, cut, banded, wethered, nuts off, neutered, bands on, knackers, castrating, burdizzo
shorn: sheared, shorn, shore, clipped, shearing, shearer, fleeced, clip, blades, crutched none
housed: housed, brought inside, in the shed for winter, inside for winter, into the shed, in for winter, housing, indoors
creep: on creep, onto creep, creep feed, started creep, on the creep
eggs: eggs, egg, laid, dozen eggs, lay, laying
inserts: inserts, insert, sponges, sponge, sponged, cidrs, cidr, progesterone, inserted
rams: rams, ram, tups, tup, bucks none, boys, the boys, buck none
in: out with, in, went in, are in, turned in, in w, in with, joined, over, loose with, turned out with, ran with, running with, with
outof: out, out of, took out, back out, taken out, came out, pulled, removed, lifted
synced: synced, synchronised, synchronized, sync, sponged, syncd
marked: paint on, colour on, color on, raddle on, crayon on, marked, raddled, raddle, keel, keeled, tupped, covered, served, crayon, coloured, colored, marking
scanned: scanned, scan, scanning, scans, ultrasound, pregnancy checked, preg checked, scanner
inlamb: in lamb, pregnant, bred, in-lamb, inlamb, carrying, holding
empty: empty, open, dry, barren, empties, not in lamb, geld, eild, yeld, drys
arrived: arrived, bought, bought in, came home, new, brought home, purchased, joined us, landed, in off, in from
tagged: got her tag, got his tag, got its tag, tagged, tag in, put tag, put tags, tagging, new tag
retagged: retagged, lost her tag, lost his tag, lost its tag, lost tag, new tag, now, replaced, is now, changed to, replacement tag, retag, tag lost
count: gathered, tally, i make it, make it, counted, head, count, hd, total, there are, in tonight, on the place, all in, headcount
ration: per head, a head, each a day, a day each, per hd, a hd, from now on, from today, as of today, ration, getting, get, up to, bumped, bumping, per day, a day, daily, a head a day, each per day, apiece, per head per day, on
closed: wont be open, not be open, isnt open, arent open, not opening, closed, shut, closing, shuts, closes, not open, off
open: open, opened, opens, opening, open again
bin: bin, bins, silo, silos
augered: augered, moved, shifted, transferred, turned, ran, emptied, tipped, put, swapped
load: load, loads, trailer load, semi, truckload, trailer, trailers
fieldwork: rowed up, rowed, shook out, shaken out, rotavated, flailed, spot sprayed, dragged, top dressed, topdressed, top dress, sprayed, cut, baled, mowed, mown, plowed, ploughed, disked, disced, drilled, planted, sowed, sown, combined, combining, harvested, spread, raked, rolled, harrowed, limed, fertilised, fertilized, topped, tedded, turned, cultivated, seeded, reseeded, chopped, swathed, tilled, worked, hayed, brushhogged, mulched, wrapped, muckspread, slurried, slurry, muck, manure, manured, dunged, fert, chain harrowed, direct drilled, power harrowed, subsoiled, hoed, tined, scuffled, graded, cleaned, stubbled, burned off, dusted, scouted, walked, silaged, silage, fenced, aerated, windrowed, oversowed, bulldozed
remind: mind me, mind us, remind, remind me, reminder, reminders, dont let me forget, don't let me forget, set a reminder, nudge me, give me a shout, give us a shout, jog my memory, buzz me, poke me, ping me, prompt me, reminding
correct: should be, shd be, should have been, should of been, shoulda been, was wrong, not, instead of, fix, correct, correction, oops, sorry, wrong, meant, typo, mistyped, isn't, isnt, wasn't, wasnt, change, supposed to be, i meant, make that, actually
undo: undo, scrub, scratch that, delete, take out, take back, remove, forget that, cancel, scrap, wipe, strike, ignore that, ignore, scratch, take that back, bin that
done: done, finished, sorted, all done, did the, thats done, that's done, completed, ticked off
price: schedule, mart, quoting, quote, price, prices, market, bringing, heard, trade, going for, worth, quoted, making, fetching, topped at, up to, at the sale barn, back to, down, dropped to, elevator, paying
hold_days: withdrawal, hold, withhold, wdl, whp, clear, days before, holding, withdraw, days on
sick: humped up, wont drink, blowing, breathing hard, skin and bone, skin and bones, skin and bane, dying, stiff, knackered, limping, lame, off feed, coughing, cough, puffing, panting, grunting, scouring, scours, scour, bloated, bloat, swollen, runny, sick, poorly, ill, loose, blind, bleeding, abscess, stuck, cast, hurt, sore, footrot, foot rot, orf, ringworm, maggots, flystrike, strike, struck, snotty, breathing, wheezing, drooling, shivering, weak, thin, skinny, prolapse, prolapsed, mastitis, hard bag, lump, cut, wound, torn, broken, down, not eating, isn't eating, off her food, off his food, wont eat, won't eat, dull, hunched, head down, itchy, itching, rubbing, wool loss, losing wool, blown, acting off, not right, not himself, not herself, quiet, slow, off colour, off, looks, looking, seems, has a, better, recovered, fine, eating again, escaped, got out, jumped, jumping, aggressive, hitting, head stuck, pink eye, pinkeye, watery eye, bad eye, watery, bottle jaw, pale, anaemic, lame on, favoring, favouring, limps, hopping, tender, nose, eye, foot, feet, leg, hoof, udder, teat, bag, ear, horn, scabby, scald, wormy, dirty, daggy, mucky, struck with, sneezing, hot, fever, temperature
grow: gaining, growing, gain, growth, doing, gained, putting on, adg
wish: needs another, needs a second, needs more, needs one more, wants another, wonder, wonder what, need to, needs to, need, want, wants, wanna, wish, would, wouldn't, wouldnt, could, should, shoulda, should've, shouldve, might, may, maybe, gonna, going to, goin to, gunna, plan to, planning, plan, hoping, hope, thinking, thinkin, think we, think ill, if, will, well be, ill have, let's, lets, supposed, aim, aiming, going ta, about to, ought, hafta, have to, gotta, got to, has to, dreamt, dreamed, dream, supposing, suppose, due to, tomorrow ill, can you, could you, fancy, tempted, considering, intend, meaning to, must, better get, shall, id like, almost, nearly, forgot to, didn't, didnt, haven't, havent, hasn't, hasnt, never, don't, dont, can't, cant, couldn't, couldnt, wont, won't, wasnt able, unless, until, till, before, when, once, after, looks like, might be, remember to, mind, how about, what if, imagine, is coming, are coming, coming at, coming on, ask the, ask him, ask them, tell him, tell them to, ready to, waiting on, waiting for, wait
ask: how, what, whats, what's, when, which, who, whos, who's, where, is there, are there, are we, is it, do we, do i, did we, did i, can i, can we, will the, will it, any, anything, anybody, anyone, should we, should i, show me, tell me, pull up, list, give me, hows, how's, why, are the, is the, has the, have we, whats the, howmany, does, do you, could you, can you, send me, print, wheres, fit, remind me what, am i, was, whens, when's, which ones, got any, need to know, look up, lookup
late: forgot to put down, forgot to text, forgot to send, forgot to say, forgot to tell you, forgot to mention, forgot to log, forgot to write, forgot to add, forgot to tell
thanks: gave up on, gave us a, gave me a, gave birth to a, got to, up and, thanks, thx, ta, cheers, ok, okay, lol, haha, yes, yep, no worries, good, great
"""


def _parsed() -> dict[tuple[str, ...], frozenset[str]]:
    found: dict[tuple[str, ...], set[str]] = {}
    for line in _TABLE.strip().splitlines():
        name, _, words = line.partition(": ")
        for word in words.split(", "):
            if not word.endswith(" none"):
                found.setdefault(tuple(word.replace("'", "").replace("-", " ").split()), set()).add(name)
    return {span: frozenset(classes) for span, classes in found.items()}


BY_WORDS = _parsed()
WILL = {"we'll", "i'll", "i'd", "we'd", "they'll", "he'll", "she'll"}  # without the mark they are other words
LONGEST = max(map(len, BY_WORDS))
# Every word of it.
CLASSES = frozenset(w for span in BY_WORDS for w in span)

# Words that can only be a doing of their kind: a stretch that has one is not understood by a row of another kind.
STRONG = {
    word.strip(): name
    for name, words in {
        "dose": "given, jabbed, jagged, vaccinated, vacced, drenched, treated, injected, dosed, wormed, bolused",
        "ship": "to the sale, to the sale barn, to the auction, to the yards, to the stockyards, to the packer, to the processor, to the abattoir, shipped, hauled, trucked, loaded, on the truck, on the trailer, on the lorry",
        "sell": "sold, flogged",
        "die": "died, dead, killed, found dead, put down, didnt make it, pts, passed away",
        "weaned": "weaned",
        "docked": "docked, tailed, tails done, rings on",
        "castrated": "castrated, banded, wethered",
        "shorn": "sheared, shorn",
        "pulled": "pulled off, on the bottle, off the ewe",
        "housed": "housed",
        "cull": "cull, culled, culling, cull list",
        "lambed": "lambed, twins, triplets",
        "move": "moved, shifted, drafted",
        "order": "ordered",
        "foster": "fostered, grafted, adopted",
        "tagged": "tagged",
        "retagged": "retagged, lost her tag, lost his tag, lost its tag",
        "weigh": "weighed",
        "scanned": "scanned",
        "inserts": "inserts, sponges, cidrs, sponged",
        "marked": "raddled, tupped",
        "borrow": "borrowed",
        "lend": "lent",
        "fed": "fed, bedded",
        "fieldwork": "top dressed, topdressed, sprayed, plowed, ploughed, disked, drilled, planted, mowed, harvested, baled, combined, topped, harrowed",
        "load": "loads, load",
        "augered": "augered",
    }.items()
    for word in words.split(",")
}
