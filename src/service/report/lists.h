/// The lists of a job as people read them: recordings, revisions, the journal. Columns are as wide
/// as what stands in them; long reasons go on below themselves.
#pragma once

#include <string>
#include <vector>

#include "service/job/job.h"

namespace fuelwright::service {

std::string recordings_text(const std::vector<RecordingRow>& rows);
std::string revisions_text(const std::vector<RevisionRow>& rows);
std::string journal_text(const std::vector<JournalRow>& rows);

}  // namespace fuelwright::service
