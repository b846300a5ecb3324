#include "service/report/lists.h"

#include <gtest/gtest.h>

#include <algorithm>

namespace fuelwright::service::lists_test {
namespace {

TEST(Lists, TheJournalStandsInColumnsUnderItsHeadings) {
  const std::vector<JournalRow> rows{
      {1, "2026-05-04T09:30:00Z", "Kim", "new", "a new job from its sheet", "{}", {}},
      {12, "2026-05-04T09:31:00Z", "J\xC3\xB6rg", "accept", "richer", R"({"recordings":[1,4]})",
       2}};
  EXPECT_EQ(journal_text(rows),
            "  no.  when (UTC)           who   command  what and why\n"
            "    1  2026-05-04 09:30:00  Kim   new      a new job from its sheet\n"
            "   12  2026-05-04 09:31:00  J\xC3\xB6rg  accept   revision 2 in force: richer [from "
            "recordings 1, 4]\n");
}

TEST(Lists, ALongReasonGoesOnBelowItselfAndLosesNoWord) {
  std::string why;
  for (int i = 0; i < 60; ++i) why += (i == 0 ? "word" : " word") + std::to_string(i);
  const std::string text =
      journal_text({{1, "2026-05-04T09:30:00Z", "Kim", "accept", why, "{}", {}}});
  std::size_t from = text.find('\n') + 1;
  const std::size_t indent = text.find("word0") - from;
  std::string again;
  for (std::size_t end; (end = text.find('\n', from)) != std::string::npos; from = end + 1) {
    EXPECT_LE(end - from, 110U);
    again += (again.empty() ? "" : " ") + text.substr(from + indent, end - from - indent);
  }
  EXPECT_EQ(again, why);
}

TEST(Lists, ARecordingSaysHowLongItIsOrThatItHasNoTime) {
  RecordingRow r{.id = {3},
                 .name = "drive.csv",
                 .sha256 = std::string(64, 'a'),
                 .bytes = 1'204'675,
                 .added_when = "2026-05-04T09:30:00Z",
                 .added_by = "Kim"};
  r.reading = {"{}", R"({"seconds": 900.0})", 18000};
  const std::string timed = recordings_text({r});
  EXPECT_NE(
      timed.find("3  drive.csv  15.0 min  18000  1.2 MB  2026-05-04 09:30:00  Kim  aaaaaaaaaaaa"),
      std::string::npos)
      << timed;
  r.reading.summary_json = "{}";
  EXPECT_NE(recordings_text({r}).find("no time"), std::string::npos);
  EXPECT_EQ(recordings_text({}), "  none\n");
}

}  // namespace
}  // namespace fuelwright::service::lists_test
