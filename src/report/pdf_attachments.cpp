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

#include "report/pdf_archive.hpp"

namespace ebbtide::report {
namespace {

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
    make_archivable(file, document);
    attach(file, document, attachments);
    QPDFWriter writer(file);
    writer.setOutputMemory();
    writer.setDeterministicID(true);
    writer.setMinimumPDFVersion("1.7");
    writer.setNewlineBeforeEndstream(true);  // ISO 19005-3, 6.1.7.1
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
