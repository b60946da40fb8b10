"""Reads an Encapsulated PDF with pydicom and with DCMTK, and takes the paper out of it
with both.

usage: dicom_pdf.py FILE PDF   (the paper goes to PDF)
"""

import json
import subprocess
import sys

import pydicom
from pydicom.uid import UID

dicom_file, pdf_file = sys.argv[1:]
data = pydicom.dcmread(dicom_file)
assert data.file_meta.TransferSyntaxUID == "1.2.840.10008.1.2.1"
assert data.SOPClassUID == "1.2.840.10008.5.1.4.1.1.104.1"
assert data.file_meta.MediaStorageSOPInstanceUID == data.SOPInstanceUID
for uid in [data.SOPInstanceUID, data.StudyInstanceUID, data.SeriesInstanceUID]:
    assert UID(uid).is_valid and uid.startswith("2.25.") and len(uid) <= 64

# Attributes of type 1 have a value, those of type 2 are there, by the modules of the
# Encapsulated PDF IOD (PS3.3, A.45.1.3).
TYPE_1 = ["SOPClassUID", "SOPInstanceUID", "StudyInstanceUID", "SeriesInstanceUID", "Modality",
          "SeriesNumber", "ConversionType", "InstanceNumber", "BurnedInAnnotation",
          "MIMETypeOfEncapsulatedDocument", "EncapsulatedDocument", "SpecificCharacterSet"]
TYPE_2 = ["PatientName", "PatientID", "PatientBirthDate", "PatientSex", "StudyDate", "StudyTime",
          "ReferringPhysicianName", "StudyID", "AccessionNumber", "Manufacturer", "ContentDate",
          "ContentTime", "AcquisitionDateTime", "DocumentTitle", "ConceptNameCodeSequence"]
for name in TYPE_1:
    assert data.get(name) not in (None, ""), name
for name in TYPE_2:
    assert name in data, name
assert (data.Modality, data.ConversionType) == ("DOC", "WSD")
assert data.MIMETypeOfEncapsulatedDocument == "application/pdf"
assert data.PatientBirthDate == "" and data.PatientSex == ""
assert data.PatientIdentityRemoved == "YES" and data.DeidentificationMethod
(concept,) = data.ConceptNameCodeSequence
assert concept.CodeValue and concept.CodingSchemeDesignator and concept.CodeMeaning
for element in data.iterall():  # Lengths and forms of values, by PS3.5.
    pydicom.valuerep.validate_value(element.VR, element.value, pydicom.config.RAISE) \
        if isinstance(element.value, str) else None

document = data.EncapsulatedDocument
assert len(document) % 2 == 0
pdf = document[: data.EncapsulatedDocumentLength]
assert len(document) - len(pdf) in (0, 1)
assert pdf.startswith(b"%PDF-") and pdf.rstrip().endswith(b"%%EOF")
with open(pdf_file, "wb") as file:
    file.write(pdf)

# DCMTK reads it without a complaint and takes out the same.
dump = subprocess.run(["dcmdump", "+E", dicom_file], capture_output=True, text=True, check=True)
assert not dump.stderr, dump.stderr
subprocess.run(["dcm2pdf", dicom_file, pdf_file + ".dcmtk"], check=True)
with open(pdf_file + ".dcmtk", "rb") as file:
    assert file.read().rstrip(b"\0") == pdf
print(json.dumps({
    "name": str(data.PatientName),
    "id": data.PatientID,
    "side": data.get("ImageLaterality"),
    "burned_in": data.BurnedInAnnotation,
    "verified": data.VerificationFlag,
    "study": data.StudyInstanceUID,
    "instance": data.SOPInstanceUID,
    "acquired": str(data.AcquisitionDateTime),
}))
