//! The report as a DICOM file, for a picture archive: Encapsulated PDF (PS3.3 A.45.1).
//!
//! Name and ID of the patient are the code; whoever receives it gives it a real one.

use dicom_core::value::DataSetSequence;
use dicom_core::{DataElement, PrimitiveValue, Tag, VR};
use dicom_dictionary_std::{tags, uids};
use dicom_object::{FileMetaTableBuilder, InMemDicomObject};
use jiff::Timestamp;

use super::identity::uid;
use super::stored::{Stored, in_utc};
use crate::body::Side;
use crate::error::{Error, Remedy, Result};
use crate::files::{self, FolderWriter};
use crate::report::wording::export as words;
use crate::session;
use crate::session::review::ReviewState;

const DATE: &str = "%Y%m%d";
const TIME: &str = "%H%M%S";
const DATE_TIME: &str = "%Y%m%d%H%M%S";

pub(super) fn write(session: &Stored, into: &FolderWriter) -> Result<()> {
    let Some(pdf) = session.paper()? else { return Err(session.lacks(session::PAPER)) };
    let bytes = file(session, pdf).map_err(|e| Error::NotExported {
        what: format!("'{}' cannot be written as DICOM ({e})", session.shown()),
        remedy: Remedy::Report,
    })?;
    into.write(&format!("{}.dcm", session.id()), |out| out.write_all(&bytes))
}

/// The elements of a data set, gathered in groups of meaning; a DICOM file sorts them.
struct DataSet(Vec<DataElement<InMemDicomObject>>);

impl DataSet {
    fn put(&mut self, tag: Tag, vr: VR, value: impl Into<PrimitiveValue>) {
        self.0.push(DataElement::new(tag, vr, value.into()));
    }

    /// What has to be there and is not known.
    fn unknown(&mut self, tag: Tag, vr: VR) {
        self.0.push(DataElement::empty(tag, vr));
    }

    fn maybe(&mut self, tag: Tag, vr: VR, value: Option<String>) {
        match value {
            Some(value) => self.put(tag, vr, value),
            None => self.unknown(tag, vr),
        }
    }
}

fn file(
    session: &Stored,
    mut pdf: Vec<u8>,
) -> std::result::Result<Vec<u8>, Box<dyn std::error::Error>> {
    let id = session.id();
    let (now, filmed) = (Timestamp::now(), session.recorded_at);
    let filmed_in = |pattern: &str| filmed.map(|at| in_utc(at, pattern));
    let code = session.person().map(str::to_owned);
    let length = u32::try_from(pdf.len())?;
    // Another report is another instance.
    let instance = uid(id, &files::sha256_of(&pdf));
    let mut set = DataSet(Vec::new());

    // SOP Common.
    set.put(tags::SPECIFIC_CHARACTER_SET, VR::CS, "ISO_IR 192");
    set.put(tags::SOP_CLASS_UID, VR::UI, uids::ENCAPSULATED_PDF_STORAGE);
    set.put(tags::SOP_INSTANCE_UID, VR::UI, instance);
    set.put(tags::INSTANCE_CREATION_DATE, VR::DA, in_utc(now, DATE));
    set.put(tags::INSTANCE_CREATION_TIME, VR::TM, in_utc(now, TIME));
    set.put(tags::TIMEZONE_OFFSET_FROM_UTC, VR::SH, "+0000");
    // Patient.
    set.maybe(tags::PATIENT_NAME, VR::PN, code.clone());
    set.maybe(tags::PATIENT_ID, VR::LO, code);
    set.unknown(tags::PATIENT_BIRTH_DATE, VR::DA);
    set.unknown(tags::PATIENT_SEX, VR::CS);
    set.put(tags::PATIENT_IDENTITY_REMOVED, VR::CS, "YES");
    set.put(tags::DEIDENTIFICATION_METHOD, VR::LO, "Code in place of name and ID");
    // General Study.
    set.put(tags::STUDY_INSTANCE_UID, VR::UI, uid(id, "study"));
    set.maybe(tags::STUDY_DATE, VR::DA, filmed_in(DATE));
    set.maybe(tags::STUDY_TIME, VR::TM, filmed_in(TIME));
    set.unknown(tags::REFERRING_PHYSICIAN_NAME, VR::PN);
    set.unknown(tags::STUDY_ID, VR::SH);
    set.unknown(tags::ACCESSION_NUMBER, VR::SH);
    // Encapsulated Document Series.
    set.put(tags::MODALITY, VR::CS, "DOC");
    set.put(tags::SERIES_INSTANCE_UID, VR::UI, uid(id, "series"));
    set.put(tags::SERIES_NUMBER, VR::IS, "1");
    // General Equipment, SC Equipment.
    set.put(tags::MANUFACTURER, VR::LO, "plumbrise");
    set.put(tags::MANUFACTURER_MODEL_NAME, VR::LO, "plumbrise");
    set.put(tags::SOFTWARE_VERSIONS, VR::LO, session.session.machine.program_version.as_str());
    set.put(tags::CONVERSION_TYPE, VR::CS, "WSD");
    // Encapsulated Document. Neither a name nor a face is in it.
    set.put(tags::INSTANCE_NUMBER, VR::IS, "1");
    set.put(tags::CONTENT_DATE, VR::DA, in_utc(now, DATE));
    set.put(tags::CONTENT_TIME, VR::TM, in_utc(now, TIME));
    set.maybe(tags::ACQUISITION_DATE_TIME, VR::DT, filmed_in(DATE_TIME));
    if let Some(leg) = session.session.machine.leg {
        let side = if leg == Side::Left { "L" } else { "R" };
        set.put(tags::IMAGE_LATERALITY, VR::CS, side);
    }
    set.put(tags::BURNED_IN_ANNOTATION, VR::CS, "NO");
    set.put(tags::RECOGNIZABLE_VISUAL_FEATURES, VR::CS, "NO");
    set.put(tags::DOCUMENT_TITLE, VR::ST, words::REPORT);
    let title = InMemDicomObject::from_element_iter([
        DataElement::new(tags::CODE_VALUE, VR::SH, "SET-REPORT"),
        // Designators of private schemes begin with 99 (PS3.3, 8.2).
        DataElement::new(tags::CODING_SCHEME_DESIGNATOR, VR::SH, "99PLUMBRISE"),
        DataElement::new(tags::CODE_MEANING, VR::LO, words::REPORT),
    ]);
    let title = DataSetSequence::from(vec![title]);
    set.0.push(DataElement::new(tags::CONCEPT_NAME_CODE_SEQUENCE, VR::SQ, title));
    let signed = matches!(session.session.state(), ReviewState::SignedOff { .. });
    let verified = if signed { "VERIFIED" } else { "UNVERIFIED" };
    set.put(tags::VERIFICATION_FLAG, VR::CS, verified);
    set.put(tags::MIME_TYPE_OF_ENCAPSULATED_DOCUMENT, VR::LO, "application/pdf");
    set.put(tags::ENCAPSULATED_DOCUMENT_LENGTH, VR::UL, PrimitiveValue::from(length));
    if pdf.len() % 2 == 1 {
        pdf.push(0);
    }
    set.put(tags::ENCAPSULATED_DOCUMENT, VR::OB, PrimitiveValue::from(pdf));

    let meta = FileMetaTableBuilder::new()
        .transfer_syntax(uids::EXPLICIT_VR_LITTLE_ENDIAN)
        .implementation_class_uid(uid("plumbrise", "implementation"))
        .implementation_version_name("PLUMBRISE");
    let object = InMemDicomObject::from_element_iter(set.0).with_meta(meta)?;
    let mut bytes = Vec::new();
    object.write_all(&mut bytes)?;
    Ok(bytes)
}
