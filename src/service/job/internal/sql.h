/// Every statement that reads or adds rows, in one place. The tables stand in schema.cc.
#pragma once

namespace fuelwright::service::internal::sql {

// ---- journal
// -------------------------------------------------------------------------------------------------------
inline constexpr const char* kJournalRows =
    "SELECT id, at, who, command, why, sources, in_force, seal FROM journal ORDER BY id";
inline constexpr const char* kLastJournal = "SELECT id, seal FROM journal ORDER BY id DESC LIMIT 1";
inline constexpr const char* kAddJournal =
    "INSERT INTO journal (id, at, who, command, why, sources, in_force, seal)"
    " VALUES (?, ?, ?, ?, ?, ?, ?, ?)";
inline constexpr const char* kNumberInForce =
    "SELECT in_force FROM journal WHERE in_force IS NOT NULL ORDER BY id DESC LIMIT 1";

// ---- sheet and settings
// --------------------------------------------------------------------------------------------
inline constexpr const char* kSheet = "SELECT id, toml, seal FROM sheets ORDER BY id DESC LIMIT 1";
inline constexpr const char* kAddSheet =
    "INSERT INTO sheets (toml, seal, journal) VALUES (?, ?, ?)";
inline constexpr const char* kSetting =
    "SELECT id, value, seal FROM settings WHERE name = ? ORDER BY id DESC LIMIT 1";
inline constexpr const char* kSettingRows =
    "SELECT id, name, value, seal FROM settings ORDER BY id";
inline constexpr const char* kAddSetting =
    "INSERT INTO settings (name, value, seal, journal) VALUES (?, ?, ?, ?)";

// ---- recordings
// ----------------------------------------------------------------------------------------------------
inline constexpr const char* kRecordings =
    "SELECT r.id, r.name, r.sha256, r.bytes, r.seal, j.at, j.who, g.mapping, g.summary, g.samples, "
    "g.seal"
    " FROM recordings r JOIN journal j ON j.id = r.journal JOIN readings g ON g.id ="
    " (SELECT max(id) FROM readings WHERE recording = r.id)"
    " WHERE ?1 IS NULL OR r.id = ?1 ORDER BY r.id";
inline constexpr const char* kRecordingIds = "SELECT id FROM recordings ORDER BY id";
inline constexpr const char* kRecordingWithHash =
    "SELECT r.id, r.name, j.at FROM recordings r JOIN journal j ON j.id = r.journal WHERE sha256 = "
    "?";
inline constexpr const char* kPackedBytes =
    "SELECT packed, bytes, sha256 FROM recordings WHERE id = ?";
inline constexpr const char* kAddRecording =
    "INSERT INTO recordings (name, sha256, bytes, seal, journal, packed) VALUES (?, ?, ?, ?, ?, ?)";
inline constexpr const char* kAddReading =
    "INSERT INTO readings (recording, mapping, summary, samples, seal, journal) VALUES (?, ?, ?, "
    "?, ?, ?)";

// ---- ensembles
// ------------------------------------------------------------------------------------------------------
inline constexpr const char* kEnsembleRows =
    "SELECT id, sheet_sha256, members, seed, model, bytes, sha256, seal FROM ensembles ORDER BY id";
inline constexpr const char* kEnsemble =
    "SELECT id, sheet_sha256, members, seed, model, bytes, sha256, seal, packed FROM ensembles"
    " WHERE sheet_sha256 = ? AND members = ? AND seed = ? AND model = ?";
inline constexpr const char* kAddEnsemble =
    "INSERT INTO ensembles (sheet_sha256, members, seed, model, bytes, sha256, seal, journal, "
    "packed) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)";

// ---- revisions and proposals
// ---------------------------------------------------------------------------------------
inline constexpr const char* kRevisions =
    "SELECT v.number, v.parent, v.proposal, j.why, j.who, j.at, v.calibration, v.seal"
    " FROM revisions v JOIN journal j ON j.id = v.journal"
    " WHERE ?1 IS NULL OR v.number = ?1 ORDER BY v.number";
inline constexpr const char* kNextRevision = "SELECT coalesce(max(number) + 1, 0) FROM revisions";
inline constexpr const char* kAddRevision =
    "INSERT INTO revisions (number, parent, proposal, calibration, seal, journal) VALUES (?, ?, ?, "
    "?, ?, ?)";
inline constexpr const char* kLastProposal =
    "SELECT p.id, p.parent, p.reason, p.calibration, p.evidence, p.details, p.seal, j.who, j.at,"
    " EXISTS (SELECT 1 FROM revisions v WHERE v.proposal = p.id)"
    " FROM proposals p JOIN journal j ON j.id = p.journal ORDER BY p.id DESC LIMIT 1";
inline constexpr const char* kProposalOfRevision =
    "SELECT p.id, p.parent, p.reason, p.calibration, p.evidence, p.details, p.seal, j.who, j.at, 1"
    " FROM proposals p JOIN journal j ON j.id = p.journal"
    " JOIN revisions r ON r.proposal = p.id WHERE r.number = ?";
inline constexpr const char* kProposalRecordings =
    "SELECT recording FROM proposal_recordings WHERE proposal = ? ORDER BY recording";
inline constexpr const char* kAddProposal =
    "INSERT INTO proposals (parent, reason, calibration, evidence, details, seal, journal)"
    " VALUES (?, ?, ?, ?, ?, ?, ?)";
inline constexpr const char* kAddProposalRecording =
    "INSERT INTO proposal_recordings (proposal, recording) VALUES (?, ?)";

}  // namespace fuelwright::service::internal::sql
