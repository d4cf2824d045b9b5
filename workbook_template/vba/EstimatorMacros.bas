Attribute VB_Name = "EstimatorMacros"
Option Explicit

' What the buttons run. Everything is worked out in Python; here it is only called, and a call
' that fails is shown. RunPython and ImportPythonUDFs are in the module xlwings.

Private Const TITLE As String = "Job estimate"
Private Const WHICH_PAGES As String = "Which pages? Type status, log, claim, request or baseline."
Private Const WHICH_DAY As String = "Up to the end of which day?"
Private Const WHERE_HELP_IS As String = "See the troubleshooting table in docs/excel.md."

Public Sub Estimate()
    On Error GoTo Failed
    RunPython "from estimator.excel import live; live.estimate_active()"
    Exit Sub
Failed:
    TellFailure "The estimate could not start.", Err.Description
End Sub

Public Sub CheckInputs()
    On Error GoTo Failed
    RunPython "from estimator.excel import live; live.check_active()"
    Exit Sub
Failed:
    TellFailure "The check could not start.", Err.Description
End Sub

Public Sub AfterAward()
    Dim Wanted As String, UpTo As String
    On Error GoTo Failed
    Wanted = LCase$(Trim$(InputBox(WHICH_PAGES, TITLE, "status")))
    Select Case Wanted
    Case ""
        Exit Sub
    Case "status", "claim"
        UpTo = InputBox(WHICH_DAY, TITLE, Date)
        If UpTo = "" Then Exit Sub
        If Not IsDate(UpTo) Then
            MsgBox "Not a date: " & UpTo, vbExclamation, TITLE
            Exit Sub
        End If
        UpTo = AsText(CDate(UpTo))
    Case "baseline", "log", "request"
    Case Else
        MsgBox "Not one of these: " & Wanted, vbExclamation, TITLE
        Exit Sub
    End Select
    RunPython "from estimator.excel import live; live.after_award_active('" & Wanted & "', '" & UpTo & "')"
    Exit Sub
Failed:
    TellFailure "The pages could not be started.", Err.Description
End Sub

Private Function AsText(ByVal What As Date) As String
    AsText = Year(What) & "-" & Right$("0" & Month(What), 2) & "-" & Right$("0" & Day(What), 2)
End Function

Public Sub ImportFunctions()
    On Error GoTo Failed
    #If Mac Then
        MsgBox "Cell functions work in Excel on Windows only.", vbInformation, TITLE
    #Else
        ImportPythonUDFs
    #End If
    Exit Sub
Failed:
    TellFailure "The cell functions could not be imported.", Err.Description
End Sub

Private Sub TellFailure(ByVal What As String, ByVal Why As String)
    Application.StatusBar = False
    MsgBox What & vbNewLine & vbNewLine & Why & vbNewLine & vbNewLine & WHERE_HELP_IS, _
        vbExclamation, TITLE
End Sub
