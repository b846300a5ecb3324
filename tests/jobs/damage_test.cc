// A damaged job: every command says so in one line and leaves every byte as it is.
#include <random>

#include "workshop.h"

namespace fuelwright::jobs {
namespace {

constexpr int kDamaged = 8;  // docs/exit_codes.md
constexpr std::size_t kPage = 4096;

class Damaged : public Workshop {
 protected:
  std::vector<Words> all_commands(const std::string& job) const {
    std::vector<Words> out{add(job, another_drive(3)),
                           {"estimate", job},
                           {"accept", job},
                           {"export", job},
                           {"export-recordings", job, "-o", in("shop")}};
    for (const char* what :
         {"summary", "sheet", "recordings", "revisions", "evidence", "journal"}) {
      out.push_back({"show", job, what});
    }
    return out;
  }
  std::size_t files() const {
    return static_cast<std::size_t>(
        std::distance(std::filesystem::directory_iterator(folder_), {}));
  }
};

TEST_F(Damaged, EveryCommandReportsItAndTheFileStaysByteForByte) {
  const std::string good = bytes_of(in("proposed.fw"));
  const std::string job = in("coupe.fw");
  const auto commands = all_commands(job);
  std::string no_tail = good.substr(0, good.size() - kPage);
  std::string no_head = good;
  no_head.replace(0, 16, 16, '\0');
  std::string wrong_pages = good;
  for (std::size_t at = kPage; at < good.size(); at += kPage)
    wrong_pages.replace(at, 12, 12, '\x7f');
  std::string text_changed = good;
  const std::size_t reason = text_changed.find("from its sheet");  // in the journal's first row
  ASSERT_NE(reason, std::string::npos);
  text_changed.replace(reason, 4, "with");
  const std::pair<const char*, std::string> cases[] = {
      {"cut in half", good.substr(0, good.size() / 2)},
      {"without its last page", no_tail},
      {"without its beginning", no_head},
      {"pages overwritten", wrong_pages},
      {"a word of the journal changed", text_changed},
      {"empty", ""},
      {"a text file", "rpm,kPa\n800,40\n"}};
  for (const auto& [name, bytes] : cases) {
    SCOPED_TRACE(name);
    write_bytes(job, bytes);
    const std::size_t before = files();
    for (const Words& command : commands) {
      SCOPED_TRACE(command.front() + " " + command.back());
      const Answer a = run(command);
      expect_refusal(a, kDamaged, job);
      EXPECT_TRUE(bytes_of(job) == bytes) << "the file was changed";
    }
    EXPECT_EQ(files(), before) << "something was left beside it";
  }
}

TEST_F(Damaged, AByteChangedAnywhereIsReportedOrDoesNotMatter) {
  const std::string good = bytes_of(in("proposed.fw"));
  const std::string job = fresh("proposed.fw");
  const std::string truth = everything(job);
  std::mt19937 random(51);
  int reported = 0;
  constexpr int kFlips = 150;
  for (int i = 0; i < kFlips; ++i) {
    std::string bad = good;
    const std::size_t at = random() % bad.size();
    bad[at] = static_cast<char>(bad[at] ^ static_cast<char>(1 + random() % 255));
    write_bytes(job, bad);
    SCOPED_TRACE(at);
    const Answer a = run({"show", job, "journal", "--json"});
    EXPECT_TRUE(bytes_of(job) == bad) << "reading changed the file";
    if (a.code == 0) {
      EXPECT_NE(truth.find(a.out), std::string::npos) << "it says something else";
      continue;
    }
    ++reported;
    EXPECT_EQ(a.code, kDamaged) << a.out;
    // A write would not help either.
    expect_refusal(run({"accept", job}), kDamaged);
    EXPECT_TRUE(bytes_of(job) == bad) << "accept changed the file";
  }
  EXPECT_GT(reported, kFlips / 10);
}

}  // namespace
}  // namespace fuelwright::jobs
