//! Publications, by the keys used in documentation, criteria and explanations.
//!
//! How far each was verified is said where a value of it is used; «from memory»
//! where it was not read.

/// Key and publication.
pub const REFERENCES: &[(&str, &str)] = &[
    (
        "Ageberg2010",
        "Ageberg E, Bennell KL, Hunt MA, et al. BMC Musculoskelet Disord 2010;11:265. doi 10.1186/1471-2474-11-265",
    ),
    (
        "Balasubramanian2015",
        "Balasubramanian S, Melendez-Calderon A, Roby-Brami A, Burdet E. J Neuroeng Rehabil 2015;12:112. doi 10.1186/s12984-015-0090-9",
    ),
    (
        "Berg1992",
        "Berg KO, Wood-Dauphinee SL, Williams JI, Maki B. Can J Public Health 1992;83(S2):S7-11",
    ),
    ("Bland1986", "Bland JM, Altman DG. Lancet 1986;327:307-310 (from memory)"),
    (
        "Bland1999",
        "Bland JM, Altman DG. Stat Methods Med Res 1999;8:135-160. doi 10.1191/096228099673819272 (from memory)",
    ),
    (
        "Bland2007",
        "Bland JM, Altman DG. J Biopharm Stat 2007;17:571-582. doi 10.1080/10543400701329422 (from memory)",
    ),
    ("Byrt1993", "Byrt T, Bishop J, Carlin JB. J Clin Epidemiol 1993;46:423-429 (from memory)"),
    (
        "Casiez2012",
        "Casiez G, Roussel N, Vogel D. 1 € filter. Proc CHI 2012:2527-2530 (from memory)",
    ),
    ("Cicchetti1990", "Cicchetti DV, Feinstein AR. J Clin Epidemiol 1990;43:551-558 (from memory)"),
    ("Cohen1960", "Cohen J. Educ Psychol Meas 1960;20:37-46 (from memory)"),
    (
        "Cosoli2026",
        "Cosoli G, Arnesano M, Scalise L. Metrological characterization of MediaPipe for knee joint angle estimation during squat execution. 2026",
    ),
    (
        "Culvenor2016",
        "Culvenor AG, Collins NJ, Guermazi A, et al. Arthritis Care Res 2016;68:784-792",
    ),
    ("Dingenen2014", "Dingenen B, et al. Phys Ther Sport 2014;15:117-123"),
    (
        "Drillis1966",
        "Drillis R, Contini R. Body Segment Parameters. New York Univ. Report 1166.03, 1966",
    ),
    (
        "Englander2019",
        "Englander ZA, Cutcliffe HC, Utturkar GM, et al. Orthop J Sports Med 2019;7(1). doi 10.1177/2325967118819831",
    ),
    ("Flash1985", "Flash T, Hogan N. J Neurosci 1985;5:1688-1703"),
    ("Fleiss1969", "Fleiss JL, Cohen J, Everitt BS. Psychol Bull 1969;72:323-327 (from memory)"),
    ("Gillette2012", "Gillette JC, Stevermer CA. Gait Posture 2012;35:78-82"),
    (
        "Haberkamp2022",
        "Haberkamp LD, Garcia MC, Bazett-Jones DM. J Biomech 2022;144:111333. doi 10.1016/j.jbiomech.2022.111333",
    ),
    (
        "Harrington2007",
        "Harrington ME, Zavatsky AB, Lawson SEM, Yuan Z, Theologis TN. J Biomech 2007;40:595-602 (coefficients as in public implementations; the paper was not read)",
    ),
    (
        "JCGM101",
        "JCGM 101:2008. Evaluation of measurement data, supplement 1: propagation of distributions using a Monte Carlo method. BIPM (from memory)",
    ),
    (
        "KSSTA2019",
        "Symmetrical knee function after reconstruction of the anterior cruciate ligament (introduction: symmetry of 90 % or more). Knee Surg Sports Traumatol Arthrosc 2019. doi 10.1007/s00167-019-05396-4",
    ),
    ("Kerr1997", "Kerr KM, White JA, Barr DA, Mollan RAB. Clin Biomech 1997;12:236-245"),
    (
        "Kotsifaki2023",
        "Kotsifaki R, et al. Guideline on rehabilitation after anterior cruciate ligament reconstruction. Br J Sports Med 2023;57:500-514",
    ),
    ("Mourey1998", "Mourey F, Pozzo T, Rouhier-Marcer I, Didier JP. Age Ageing 1998;27:137-146"),
    ("Munro2012", "Munro A, Herrington L, Carolan M. J Sport Rehabil 2012;21:7-11"),
    (
        "Murray1964",
        "Murray MP, Drought AB, Kory RC. Walking patterns of normal men. J Bone Joint Surg Am 1964;46:335-360 (from memory)",
    ),
    (
        "Nakagawa2012",
        "Nakagawa TH, Moriya ETU, Maciel CD, Serrao FV. JOSPT 2012;42:491-501. doi 10.2519/jospt.2012.3987",
    ),
    (
        "Needham2021",
        "Needham L, Evans M, Cosker DP, et al. Sci Rep 2021;11. doi 10.1038/s41598-021-00212-x",
    ),
    (
        "Perry2005",
        "Perry MC, Morrissey MC, King JB, Morrissey D, Earnshaw P. Knee Surg Sports Traumatol Arthrosc 2005;13:357-369",
    ),
    (
        "Patterson2020",
        "Patterson BE, Crossley KM, Perraton LG, et al. Limb symmetry index on a functional test battery improves between one and five years after anterior cruciate ligament reconstruction. Phys Ther Sport 2020;44:67-74",
    ),
    ("Piva2006", "Piva SR, Fitzgerald K, Irrgang JJ, et al. BMC Musculoskelet Disord 2006;7:33"),
    ("Raisanen2014", "Raisanen A, Pasanen K, Parkkari J. Br J Sports Med 2014;48:653"),
    (
        "Ressman2021",
        "Ressman J, et al. BMC Sports Sci Med Rehabil 2021;13. doi 10.1186/s13102-021-00289-x",
    ),
    (
        "Robertson2003",
        "Robertson DGE, Dowling JJ. J Electromyogr Kinesiol 2003;13:569-573 (from memory)",
    ),
    ("Schenkman1990", "Schenkman M, Berger RA, Riley PO, et al. Phys Ther 1990;70:638-648"),
    ("SmoothReview2023", "J Neuroeng Rehabil 2023;20:21, table 3. doi 10.1186/s12984-023-01142-7"),
    (
        "Straub2022",
        "Straub RK, Powers CM. Int J Sports Phys Ther 2022;17:1259-1270. doi 10.26603/001c.39612",
    ),
    (
        "Sturgill2009",
        "Sturgill LP, Snyder-Mackler L, Manal TJ, Axe MJ. Interrater reliability of a clinical scale to assess knee joint effusion. JOSPT 2009;39:845-849",
    ),
    (
        "Okabe2008",
        "Okabe M, Ito K. Color Universal Design: how to make figures and presentations that are \
         friendly to colorblind people. 2008 (from memory)",
    ),
    ("Weir2005", "Weir JP. J Strength Cond Res 2005;19:231-240. doi 10.1519/15184.1"),
    ("Willson2006", "Willson JD, Ireland ML, Davis I. Med Sci Sports Exerc 2006;38:945-952"),
    (
        "Winter2009",
        "Winter DA. Biomechanics and Motor Control of Human Movement, 4th ed. Wiley 2009",
    ),
];

/// Publications whose key, as in «[Winter2009]», is said somewhere.
pub fn cited(said: impl Fn(&str) -> bool) -> Vec<(&'static str, &'static str)> {
    REFERENCES.iter().filter(|(key, _)| said(&format!("[{key}]"))).copied().collect()
}

/// The publication of a key.
pub fn find(key: &str) -> Option<&'static str> {
    REFERENCES.iter().find(|(k, _)| *k == key).map(|(_, text)| *text)
}
