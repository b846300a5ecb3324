// Recordings: coming in, looked at, added, checked.
#include <sys/stat.h>

#include <filesystem>

#include "workshop.h"

namespace fuelwright::tests {
namespace {

class Recordings : public Workshop {};

TEST_F(Recordings, AnAmbiguousColumnIsAskedAboutAndAnswered) {
  new_job();
  std::string bytes = drive(60);
  bytes.replace(bytes.find("Lambda (lambda)"), 15, "AFR");
  // Ratios instead of lambda: 14.7 and near it.
  std::string out;
  std::size_t line = 0;
  for (std::size_t from = 0; from < bytes.size(); ++line) {
    const auto end = bytes.find('\n', from);
    std::string row = bytes.substr(from, end - from);
    if (line > 0) {
      std::size_t at = 0;
      for (int k = 0; k < 6; ++k) at = row.find(',', at) + 1;
      const auto to = row.find(',', at);
      row.replace(at, to - at,
                  std::to_string(14.7 * std::stod(row.substr(at, to - at))).substr(0, 5));
    }
    out += row + "\n";
    from = end + 1;
  }
  const Reply up = send_bytes("/api/v1/jobs/v8/uploads?name=afr.csv", out);
  ASSERT_EQ(up.status, 201) << up.text;
  const Json card = up.json();
  EXPECT_TRUE(card.at("readable"));
  ASSERT_EQ(card.at("questions").size(), 1U) << card.at("questions");
  const Json option = card.at("questions")[0].at("options")[0];
  EXPECT_FALSE(option.at("answer").is_null()) << option;
  // Unanswered it is not added, and what must be answered is said.
  const Json refused = work("/api/v1/jobs/v8/add", {{"upload", card.at("upload")}});
  EXPECT_EQ(refused.at("code"), "needs_answer") << refused;
  EXPECT_EQ(refused.at("questions").size(), 1U);
  const Reply look =
      send("POST", "/api/v1/jobs/v8/uploads/" + card.at("upload").get<std::string>() + "/look",
           {{"answers", option.at("answer")}});
  EXPECT_EQ(look.json().at("questions").size(), 0U) << look.text;
  const Json added = work("/api/v1/jobs/v8/add",
                          {{"upload", card.at("upload")}, {"answers", option.at("answer")}});
  EXPECT_EQ(added.at("id"), 1) << added;
  EXPECT_EQ(get("/api/v1/jobs/v8/uploads").json().at("uploads").size(), 0U);
}

TEST_F(Recordings, TracesKeepEveryPeakOfTheirWindow) {
  new_job_with_table();
  std::string bytes = drive(120);
  // One spike of engine speed, in one row.
  const auto row = bytes.find("\n60.00,") + 1;
  const auto comma = bytes.find(',', row);
  bytes.replace(comma + 1, bytes.find(',', comma + 1) - comma - 1, "6543");
  const auto id = std::to_string(add_drive("v8", "spike.csv", bytes));
  const Json detail = get("/api/v1/jobs/v8/recordings/" + id).json();
  EXPECT_EQ(detail.at("rows"), 2400);
  EXPECT_TRUE(detail.at("timed"));
  const Json t =
      get("/api/v1/jobs/v8/recordings/" + id + "/traces?channels=rpm,map&points=50").json();
  ASSERT_EQ(t.at("channels").size(), 2U);
  ASSERT_EQ(t.at("x").size(), 50U);
  EXPECT_EQ(t.at("rows"), 2400);
  double most = 0;
  for (const Json& v : t.at("channels")[0].at("high")) most = std::max(most, v.get<double>());
  EXPECT_EQ(most, 6543);
  // Near enough every row is its own.
  const Json near =
      get("/api/v1/jobs/v8/recordings/" + id + "/traces?channels=rpm&from=59.9&to=60.1").json();
  EXPECT_TRUE(near.at("raw"));
  EXPECT_EQ(near.at("rows"), 5);  // 59.90, 59.95, 60.00, 60.05, 60.10
  EXPECT_EQ(near.at("channels")[0].at("low")[2], 6543);
  EXPECT_EQ(get("/api/v1/jobs/v8/recordings/" + id + "/traces?channels=bananas").code(),
            "not_found");
  EXPECT_EQ(get("/api/v1/jobs/v8/recordings/" + id + "/traces?from=9&to=3").code(), "usage");
  EXPECT_EQ(get("/api/v1/jobs/v8/recordings/9").code(), "not_found");
  get("/api/v1/jobs/v8/recordings/" + id + "/masks");
  EXPECT_EQ(get("/api/v1/jobs/v8/recordings").json().at("recordings").size(), 1U);
  const Json check = work("/api/v1/jobs/v8/check", {{"stood", "10 h"}});
  EXPECT_EQ(check.at("recordings").size(), 1U) << check;
  const Reply again = send("POST", "/api/v1/jobs/v8/check", {{"stood", "10 h"}});
  EXPECT_EQ(again.status, 200);  // nothing has changed: the answer is there
  EXPECT_EQ(work("/api/v1/jobs/v8/check", {{"stood", "ten hours"}}).at("code"), "bad_input");
  const Reply rules = send("PUT", "/api/v1/jobs/v8/guard-rules", check.at("guard_rules"));
  EXPECT_EQ(rules.status, 200) << rules.text;
  EXPECT_EQ(send("PUT", "/api/v1/jobs/v8/guard-rules", {{"bananas", 3}}).status / 100, 4);
}

TEST_F(Recordings, AFormMayCarryARecordingAndAWrongFileIsSaidInWords) {
  new_job();
  const std::string mark = "----part";
  const std::string form =
      "--" + mark +
      "\r\nContent-Disposition: form-data; name=\"file\"; filename=\"logs\\d.csv\"\r\n\r\n" +
      drive(30) + "\r\n--" + mark + "--\r\n";
  const Reply up =
      send_bytes("/api/v1/jobs/v8/uploads", form, "multipart/form-data; boundary=" + mark);
  ASSERT_EQ(up.status, 201) << up.text;
  EXPECT_EQ(up.json().at("name"), "d.csv");
  EXPECT_EQ(up.json().at("bytes"), drive(30).size());
  const Reply wrong = send_bytes("/api/v1/jobs/v8/uploads?name=cat.png",
                                 std::string("\x89PNG\r\n\x1a\n\0\0\0", 11));
  ASSERT_EQ(wrong.status, 201) << wrong.text;
  EXPECT_FALSE(wrong.json().at("readable"));
  EXPECT_TRUE(wrong.json().at("problem").is_string());
  const Json refused = work("/api/v1/jobs/v8/add", {{"upload", wrong.json().at("upload")}});
  EXPECT_TRUE(refused.contains("code")) << refused;
  EXPECT_EQ(send("DELETE",
                 "/api/v1/jobs/v8/uploads/" + wrong.json().at("upload").get<std::string>(), nullptr)
                .status,
            200);
  EXPECT_EQ(send_bytes("/api/v1/jobs/v8/uploads", "x").code(), "usage");  // no name
  EXPECT_EQ(get("/api/v1/jobs/v8/uploads").json().at("uploads").size(), 1U);
  new_job("other");
  EXPECT_EQ(get("/api/v1/jobs/other/uploads").json().at("uploads").size(), 0U);
  EXPECT_EQ(send("DELETE",
                 "/api/v1/jobs/other/uploads/" + up.json().at("upload").get<std::string>(), nullptr)
                .status,
            404);
  EXPECT_EQ(send("DELETE", "/api/v1/jobs/v8/uploads/..%2F..%2Fv8", nullptr).status, 404);
}

TEST_F(Recordings, AnUploadBeyondTheBoundIsRefusedAndLeavesNothing) {
  new_job();
  // Announced: refused by its length. Not announced: as soon as it is too long.
  auto c = client();
  constexpr std::size_t kMiB = std::size_t{1} << 20;
  const std::string piece(kMiB, 'x');
  const auto announced = c.Post(
      "/api/v1/jobs/v8/uploads?name=big.csv", with_token(), 513 * kMiB,
      [&](std::size_t, std::size_t length, httplib::DataSink& sink) {
        return sink.write(piece.data(), std::min(length, kMiB));
      },
      "application/octet-stream");
  ASSERT_TRUE(announced) << httplib::to_string(announced.error());
  EXPECT_EQ(announced->status, 413) << announced->body;
  int sent = 0;
  const auto chunked = c.Post(
      "/api/v1/jobs/v8/uploads?name=big.csv", with_token(),
      [&](std::size_t, httplib::DataSink& sink) {
        if (sent++ < 513) return sink.write(piece.data(), piece.size());
        sink.done();
        return true;
      },
      "application/octet-stream");
  ASSERT_TRUE(chunked) << httplib::to_string(chunked.error());
  EXPECT_EQ(chunked->status, 413) << chunked->body;
  EXPECT_EQ(get("/api/v1/jobs/v8/uploads").json().at("uploads").size(), 0U);
  for (const auto& f : std::filesystem::directory_iterator(folder_ + "/.fuelwright/uploads")) {
    ADD_FAILURE() << f.path() << " is left";
  }
}

}  // namespace
}  // namespace fuelwright::tests
