//! Every word of the guide, with the source of each statement.

use super::{Drawing, Guide, Part, Point};

const COMMON: &str = "Common practice, no source";
const OWN: &str = "Design of this program";
const PATIENT_TEXTS: &str = "Texts for patients, by a secondary source; and common practice";

const fn said(text: &'static str, source: &'static str) -> Point {
    Point { text, source }
}

const fn usual(text: &'static str) -> Point {
    said(text, COMMON)
}

/// The guide to filming.
pub(super) const GUIDE: Guide = Guide {
    title: "How to film rising from a chair",
    opening: &[
        "How to make a film that can be judged, and when not to do the test at all.",
        "Do this test only if your clinician has said that you may. Before the first time, read \
         the parts «When not to do this test», «Stop at once» and «When to get help quickly».",
    ],
    drawings: [
        Drawing {
            title: "From the side",
            alternative: "The camera stands on something firm, level, at the height of the knee, \
                          2 to 4 m in front of the person. The chair stands with its back against \
                          a wall. The person sits facing the camera, arms folded.",
            characters: r"
                                                 .-.         |
                                                (   )        |
                                                 '-'     |   |
                            arms folded - - - - |-##|    |   |
                                                |-##|    |   |
                                                |   |    |   |  wall
     camera                             .-------'   |    |   |
     .----.                             |  .--------'____|   |
     |   ()- - - - - - - - - - - - - -  |  | |           |   |
     '----'                        ^    |  | |   chair   |   |
       ||              knee height |    |  | |           |   |
      /  \                         v  __|  | |           |   |
  ------------------------------------------------------------------
        |<---------- 2 to 4 m -------->|",
            picture: r##"<path class="floor" d="M4 190H396"/>
<path class="wall" d="M372 12V190"/><text x="332" y="26">wall</text>
<path class="thing" d="M352 88V190M352 134H298V190"/><text x="304" y="176">chair</text>
<circle class="body" cx="322" cy="44" r="13"/>
<path class="limb" d="M326 66V124H282V182H268"/>
<path class="thin" d="M322 84H302V98H322"/><text x="196" y="82">arms folded</text><path class="hint" d="M270 86L298 90"/>
<rect class="thing" x="22" y="112" width="18" height="28" rx="3"/><circle class="thing" cx="40" cy="122" r="3"/>
<path class="thing" d="M31 140V168M31 160L20 190M31 160L42 190"/><text x="10" y="102">camera</text>
<path class="hint" d="M48 122H270"/>
<path class="measure" d="M232 126V188M228 132L232 126L236 132M228 182L232 188L236 182"/><text x="140" y="160">knee height</text>
<path class="measure" d="M31 206H268M37 202L31 206L37 210M262 202L268 206L262 210"/><text x="120" y="224">2 to 4 m</text>"##,
        },
        Drawing {
            title: "From above",
            alternative: "The camera stands straight in front of the person, not to one side. The \
                          toes point toward the camera. The light comes from the side of the \
                          camera. The way between is free, and nobody else is in the picture.",
            characters: r"
     light                                                   |
     \ | /                                                   |
      \|/                                                    |
                                            .------------.   |
     .----.                        toes  ===|==  .-.     |   |
     |   ()- - - free space - - -           |   (   )    |   |  wall
     '----'                              ===|==  '-'     |   |
     camera                                 |   chair    |   |
                                            '------------'   |
        |<---------- 2 to 4 m -------->|                     |",
            picture: r##"<path class="wall" d="M372 12V200"/><text x="332" y="26">wall</text>
<rect class="thing" x="294" y="64" width="62" height="72" rx="4"/><text x="304" y="154">chair</text>
<ellipse class="body" cx="326" cy="100" rx="14" ry="24"/><circle class="face" cx="322" cy="100" r="11"/>
<path class="limb" d="M314 86H268M314 114H268"/><text x="232" y="74">toes</text>
<rect class="thing" x="20" y="86" width="20" height="28" rx="3"/><circle class="thing" cx="41" cy="100" r="3"/><text x="10" y="134">camera</text>
<path class="hint" d="M48 100H256"/><text x="104" y="92">free space</text>
<circle class="light" cx="34" cy="36" r="10"/><path class="measure" d="M34 18V22M34 50V54M16 36H20M48 36H52M21 23L24 26M44 46L47 49M47 23L44 26M24 46L21 49"/><text x="60" y="40">light</text>
<path class="measure" d="M31 172H268M37 168L31 172L37 176M262 168L268 172L262 176"/><text x="120" y="190">2 to 4 m</text>"##,
        },
    ],
    parts: &[
        Part {
            title: "The camera",
            points: &[
                said(
                    "Put the phone straight in front of the person, not to one side. Seen from \
                     the side, a straight knee can look bent inward.",
                    "[Englander2019] (abstract or table read); and derived: a body turned by 5° \
                     adds 6° to a knee bent by 60°",
                ),
                usual(
                    "Lens at knee height, 2 to 4 m away. If the whole body does not fit, go \
                     further back; do not zoom.",
                ),
                usual(
                    "The phone stands upright (tall picture) and level, on something firm: a \
                     tripod, or a pile of books. Nobody holds it.",
                ),
                said(
                    "Choose 60 frames per second if the phone can. 30 will do, but short drops \
                     onto the seat cannot be seen then.",
                    "Derived: a free drop of 5 cm lasts 0.1 s, three frames at 30 per second",
                ),
                usual(
                    "Head, hands and both feet stay in the picture all the time, also when \
                     standing. Try one rise and look.",
                ),
                usual("Light on the person, from the side of the camera. No window behind."),
                said(
                    "Nobody else in the picture, no mirror, and nothing between phone and person.",
                    OWN,
                ),
            ],
        },
        Part {
            title: "The leg",
            points: &[
                said(
                    "The film is of the working leg: the leg that carries you. The program finds \
                     it; if it is wrong, use --leg left or --leg right.",
                    OWN,
                ),
                usual("To compare both legs, make two clips, one for each leg. Rest in between."),
            ],
        },
        Part {
            title: "The chair",
            points: &[
                said(
                    "Without wheels, its back against a wall.",
                    "Against a wall: by a secondary source; without wheels: common practice, no \
                     source",
                ),
                usual(
                    "Seat at the height of your knee, or as your clinician says. Write the height \
                     down, and use the same chair next time.",
                ),
                usual("No arms of the chair in the way. A firm seat, not a soft one."),
                usual(
                    "Dry floor, free space in front, and something stable to hold within \
                       reach.",
                ),
            ],
        },
        Part {
            title: "Clothes and shoes",
            points: &[
                said(
                    "Shorts, or close-fitting trousers, so that both knees can be seen. Wide \
                     trousers hide them.",
                    "[Cosoli2026] (abstract or table read)",
                ),
                usual(
                    "Bare feet or flat shoes that do not slip. Not in socks. The same each time.",
                ),
            ],
        },
        Part {
            title: "The exercise",
            points: &[
                said(
                    "Start seated and still, for about 2 seconds. End seated and still. Then stop \
                     the film.",
                    OWN,
                ),
                usual(
                    "Arms folded across the chest, or as your clinician says. Do not push off \
                     with the hands.",
                ),
                said(
                    "Toes of the working foot toward the camera, as they point by themselves. The \
                     foot stays where it is for the whole set.",
                    "[Ressman2021] (abstract or table read)",
                ),
                usual(
                    "Up until you stand straight, a short stop, then down slowly, at the same \
                     speed all the way. Sit down; do not drop.",
                ),
                usual(
                    "As many as your clinician says. If you do not know: five good ones. When the \
                     form goes, the set is over.",
                ),
            ],
        },
        Part {
            title: "The steps of the ladder",
            points: &[
                usual("Two legs: rise and sit down on both legs, without hands. (--rung two-leg)"),
                said(
                    "Split stance: the foot of the sore leg in front, the other nearer to the \
                     chair, where it carries more. Over the weeks more weight goes onto the leg \
                     in front: about 30, then 50, then 70 of 100, as your clinician says. \
                     (--rung split-stance)",
                    "[Gillette2012] (abstract or table read): the foot further back carries more; \
                     the steps: common practice, no source",
                ),
                usual(
                    "Two up, one down: rise on both legs, lift one foot, sit down slowly on the \
                     other leg. (--rung lowering)",
                ),
                usual(
                    "Single leg: rise and sit down on one leg, the free foot off the floor all \
                     the time. (--rung single-leg)",
                ),
                said(
                    "The aim at the end: 22 of these in one go, all in good form. That number \
                     comes from one study of people a year after a knee operation. It is not a \
                     pass mark.",
                    "[Culvenor2016], the 22 by a secondary source",
                ),
                usual("Which step is yours, and when to go on, is for your clinician to say."),
            ],
        },
        Part {
            title: "After filming",
            points: &[
                said(
                    "Copy the clip to the computer as it is, then: plumbrise assess CLIP.mp4 \
                     --stature 172 (your own height in cm; it makes lengths and speeds right).",
                    OWN,
                ),
                said("The film stays on this computer. The program sends nothing anywhere.", OWN),
                said(
                    "In the annotated film and in pictures the face is hidden, unless asked \
                     otherwise (--faces show). Your clip is not changed: there the face can be \
                     seen.",
                    OWN,
                ),
                usual(
                    "Film others only if they agree. Who may keep a clip, and how long, is for \
                     the rules of your clinic and country.",
                ),
            ],
        },
        Part {
            title: "When not to do this test",
            points: &[
                usual(
                    "Nobody has said that you may; or you were told to put no weight, or only \
                     part of it, on the leg.",
                ),
                usual(
                    "A new broken bone; or an operation for which your surgeon has not yet \
                     allowed it. After an operation for a new cruciate ligament, deep single-leg \
                     rises are usually not done before about 12 weeks.",
                ),
                usual(
                    "A sewn meniscus or treated cartilage, as long as there are limits on bending \
                     or load.",
                ),
                said(
                    "A clearly swollen knee (a swelling your clinician grades 2+ or more).",
                    "Rule by a table read, which cites earlier papers; grades [Sturgill2009], by \
                     a secondary source",
                ),
                usual(
                    "The knee cannot be held fully straight, or does not bend to a right \
                       angle.",
                ),
                usual(
                    "For single-leg steps: you cannot rise on two legs from the same seat without \
                     hands, or cannot stand on that leg for 10 seconds.",
                ),
                usual(
                    "A heart condition that is not stable, fever or a hot joint, a possible blood \
                     clot in the leg, or pregnancy with unsure balance.",
                ),
                usual(
                    "It is the first time, and neither your clinician nor another person is with \
                     you.",
                ),
            ],
        },
        Part {
            title: "Stop at once",
            points: &[
                said(
                    "New sharp pain, growing pain, or pain above 5 of 10; early in treatment \
                     above 3 of 10, or the limit that your clinician gave.",
                    "5 of 10: [Perry2005], by a secondary source; 3 of 10: design choice",
                ),
                usual("The knee gives way or locks."),
                usual("Dizziness, chest pain, short breath, or loss of balance."),
                usual("The free foot or a hand had to help twice: the set is over for today."),
            ],
        },
        Part {
            title: "When to get help quickly",
            points: &[
                said(
                    "Chest pain, or short breath that does not settle with rest: call the \
                     emergency number.",
                    PATIENT_TEXTS,
                ),
                said(
                    "A painful, swollen or warm calf: be seen by a doctor the same day.",
                    PATIENT_TEXTS,
                ),
                said(
                    "Fever, a hot red knee, or a wound that weeps: be seen the same day.",
                    PATIENT_TEXTS,
                ),
                said(
                    "The knee swells up suddenly, locks as it did not before, or gave way with a \
                     pop: be seen the same day.",
                    PATIENT_TEXTS,
                ),
                said("A numb, cold or pale foot: get help at once.", PATIENT_TEXTS),
            ],
        },
        Part {
            title: "What this is",
            points: &[
                usual(
                    "A summary of the movement, for you and your clinician. It is not a \
                     diagnosis, and does not replace an examination.",
                ),
                said(
                    "No study shows which number makes it safe to go on to the next step or back \
                     to sport.",
                    "[Kotsifaki2023] (abstract or table read)",
                ),
                usual(
                    "The rules of your clinic and country, and your clinician's judgement, come \
                     first.",
                ),
            ],
        },
    ],
    sources: "Where each statement comes from",
    publications: "Publications",
};
