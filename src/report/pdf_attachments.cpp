#include "report/pdf_attachments.hpp"

#include <fmt/format.h>

// qpdf asks its users to say that they no longer use its old pointer class.
#define POINTERHOLDER_TRANSITION 4

#include <qpdf/Buffer.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFEFStreamObjectHelper.hh>
#include <qpdf/QPDFEmbeddedFileDocumentHelper.hh>
#include <qpdf/QPDFFileSpecObjectHelper.hh>
#include <qpdf/QPDFWriter.hh>
#include <set>

#include "report/html_writer.hpp"
#include "report/printable_text.hpp"

namespace ebbtide::report {
namespace {

/// ISO 32000-1, 7.9.4: "D:20260314092653Z"; seconds are enough.
std::string pdf_date(Instant instant) {
    std::string digits;
    for (const char c : iso_text(instant).substr(0, 19))
        if (c >= '0' && c <= '9') digits += c;
    return "D:" + digits + "Z";
}

std::string metadata_of(const Document& document) {
    const std::string made = iso_text(document.made);
    return fmt::format(R"xml(<?xpacket begin="{}" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/">
<dc:format>application/pdf</dc:format>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{}</rdf:li></rdf:Alt></dc:title>
<dc:language><rdf:Bag><rdf:li>en</rdf:li></rdf:Bag></dc:language>
<dc:creator><rdf:Seq><rdf:li>{}</rdf:li></rdf:Seq></dc:creator>
<dc:identifier>{}</dc:identifier>
<xmp:CreateDate>{}</xmp:CreateDate>
<xmp:ModifyDate>{}</xmp:ModifyDate>
<xmp:CreatorTool>{}</xmp:CreatorTool>
<pdf:Producer>{}</pdf:Producer>
</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="r"?>
)xml",
                       "\xEF\xBB\xBF", escaped(document.title), escaped(document.laboratory),
                       escaped(document.id_and_revision), made, made, escaped(document.program),
                       escaped(document.program));
}

void describe(QPDF& pdf, const Document& document) {
    auto text = [](const std::string& s) { return QPDFObjectHandle::newUnicodeString(printable(s)); };
    auto info = QPDFObjectHandle::newDictionary();
    info.replaceKey("/Title", text(document.id_and_revision + ", " + document.title));
    info.replaceKey("/Author", text(document.laboratory));
    info.replaceKey("/Subject", text(document.subject));
    info.replaceKey("/Creator", text(document.program));
    info.replaceKey("/Producer", text(document.program));
    info.replaceKey("/CreationDate", QPDFObjectHandle::newString(pdf_date(document.made)));
    info.replaceKey("/ModDate", QPDFObjectHandle::newString(pdf_date(document.made)));
    pdf.getTrailer().replaceKey("/Info", pdf.makeIndirectObject(info));

    auto root = pdf.getRoot();
    root.replaceKey("/Lang", QPDFObjectHandle::newString("en"));
    auto preferences = QPDFObjectHandle::newDictionary();
    preferences.replaceKey("/DisplayDocTitle", QPDFObjectHandle::newBool(true));
    root.replaceKey("/ViewerPreferences", preferences);
    auto metadata = QPDFObjectHandle::newStream(&pdf, metadata_of(document));
    metadata.getDict().replaceKey("/Type", QPDFObjectHandle::newName("/Metadata"));
    metadata.getDict().replaceKey("/Subtype", QPDFObjectHandle::newName("/XML"));
    root.replaceKey("/Metadata", metadata);
}

void attach(QPDF& pdf, const Document& document, const std::vector<Attachment>& attachments) {
    QPDFEmbeddedFileDocumentHelper files(pdf);
    auto associated = QPDFObjectHandle::newArray();
    for (const Attachment& attachment : attachments) {
        auto stream = QPDFEFStreamObjectHelper::createEFStream(pdf, attachment.bytes);
        if (!attachment.media_type.empty()) stream.setSubtype(attachment.media_type);
        stream.setCreationDate(pdf_date(document.made));
        stream.setModDate(pdf_date(document.made));
        auto file = QPDFFileSpecObjectHelper::createFileSpec(pdf, attachment.name, stream);
        file.setDescription(attachment.description);
        // The record was derived (Data); everything else is what it was derived from (Source).
        file.getObjectHandle().replaceKey(
            "/AFRelationship",
            QPDFObjectHandle::newName(attachment.media_type == "application/json" ? "/Data" : "/Source"));
        files.replaceEmbeddedFile(attachment.name, file);
        associated.appendItem(file.getObjectHandle());
    }
    if (!attachments.empty()) pdf.getRoot().replaceKey("/AF", associated);
}

std::string bytes_of(QPDFObjectHandle stream) {
    const auto buffer = stream.getStreamData(qpdf_dl_all);
    return {reinterpret_cast<const char*>(buffer->getBuffer()), buffer->getSize()};
}

Attachment attachment_of(QPDFFileSpecObjectHelper file) {
    Attachment attachment;
    attachment.name = file.getFilename();
    attachment.description = file.getDescription();
    const QPDFObjectHandle stream = file.getEmbeddedFileStream();
    attachment.media_type = QPDFEFStreamObjectHelper(stream).getSubtype();
    attachment.bytes = bytes_of(stream);
    return attachment;
}

}  // namespace

Result<std::string> with_attachments(const std::string& pdf, const Document& document,
                                     const std::vector<Attachment>& attachments) {
    std::set<std::string> names;
    for (const Attachment& attachment : attachments)
        if (!names.insert(attachment.name).second)
            return Error{Fault::bad_input, "two attachments have one name", attachment.name,
                         "Give the files different names"};
    QPDF file;
    file.processMemoryFile("report", pdf.data(), pdf.size());
    describe(file, document);
    attach(file, document, attachments);
    QPDFWriter writer(file);
    writer.setOutputMemory();
    writer.setDeterministicID(true);
    writer.setMinimumPDFVersion("1.7");
    writer.setObjectStreamMode(qpdf_o_generate);
    writer.write();
    const auto buffer = writer.getBufferSharedPointer();
    return std::string(reinterpret_cast<const char*>(buffer->getBuffer()), buffer->getSize());
}

Result<std::vector<Attachment>> attachments_of_pdf(const std::string& pdf_bytes) {
    const auto refused = [](const std::string& what) {
        return Error{Fault::bad_input, what, "", "Give the PDF as ebbtide wrote it, with its attachments"};
    };
    try {
        QPDF file;
        file.setSuppressWarnings(true);
        file.setAttemptRecovery(false);  // a damaged report is not mended in silence
        file.processMemoryFile("report", pdf_bytes.data(), pdf_bytes.size());
        std::vector<Attachment> attachments;
        QPDFObjectHandle associated =
            file.getRoot().getKey("/AF");  // in the order in which they were written
        if (associated.isArray())
            for (const QPDFObjectHandle& spec : associated.aitems())
                attachments.push_back(attachment_of(QPDFFileSpecObjectHelper(spec)));
        else
            for (const auto& [name, spec] : QPDFEmbeddedFileDocumentHelper(file).getEmbeddedFiles())
                attachments.push_back(attachment_of(*spec));
        if (attachments.empty()) return refused("the PDF holds no attachments");
        return attachments;
    } catch (const std::exception& failure) {
        return refused(fmt::format("the file cannot be read as a PDF with attachments ({})", failure.what()));
    }
}

}  // namespace ebbtide::report
