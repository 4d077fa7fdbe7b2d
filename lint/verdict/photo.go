package verdict

// PhotoState says what became of a photograph on record.
type PhotoState string

// The states.
const (
	PhotoSame    PhotoState = "same"    // the file has the SHA-256 on record
	PhotoDiffers PhotoState = "differs" // it has another: the picture was changed or exchanged
	PhotoNew     PhotoState = "new"     // no SHA-256 is on record yet
	PhotoAbsent  PhotoState = "absent"  // there is no such file
)

// Photo is a photograph on record and its file.
type Photo struct {
	Name   string
	Line   int
	Col    int
	Record string // SHA-256 on record, or ""
	File   string // SHA-256 of the file, or ""
	State  PhotoState
	Why    string // why there is no file

	// Pointer is where the SHA-256 stands, or belongs, in the job.
	Pointer string
}
